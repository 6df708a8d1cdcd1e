"""What a browser is told of a page: to take its one style and its one script, and nothing else."""

from __future__ import annotations

import re
from base64 import b64decode
from hashlib import sha256

from coldcheck.report.shared.html_page import page


def _policy(made):
    (said,) = re.findall(r'http-equiv="Content-Security-Policy" content="([^"]*)"', made)
    return dict(part.strip().split(" ", 1) for part in said.split(";"))


def _hashed(allowed):
    (kind, digest) = allowed.strip("'").split("-", 1)
    assert kind == "sha256"  # CSP Level 3, 2.3.1: a hash source
    return b64decode(digest)


def test_the_style_is_allowed_by_its_hash_and_scripts_are_not():
    made = page("a", "p { color: red; }", ["<p>b</p>"])
    allowed = _policy(made)
    assert allowed["default-src"] == allowed["script-src"] == "'none'"
    assert allowed["base-uri"] == allowed["form-action"] == "'none'"
    assert _hashed(allowed["style-src"]) == sha256(b"p { color: red; }").digest()
    assert "<script" not in made


def test_a_script_is_allowed_by_its_hash_alone():
    made = page("a", "", [], "let a = 1;")
    (inside,) = re.findall(r"<script>(.*?)</script>", made, re.DOTALL)
    assert _hashed(_policy(made)["script-src"]) == sha256(inside.encode()).digest()
    assert "unsafe" not in made
