"""A page read back."""

from __future__ import annotations

from html.parser import HTMLParser


class Page(HTMLParser):
    """The tags, their classes, attributes and texts of a page; fails on tags that do not match."""

    VOID = ("meta", "input")

    def __init__(self, text):
        super().__init__()
        self.tags, self.classes, self.attributes, self.texts, self._open = [], [], [], [], []
        self.feed(text)
        self.close()
        assert self._open == []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.classes.append((tag, dict(attrs).get("class", "")))
        self.attributes += attrs
        if tag not in self.VOID:
            self._open.append(tag)

    def handle_endtag(self, tag):
        assert self._open.pop() == tag

    def handle_data(self, data):
        self.texts.append(data)
