"""Small readers of lark trees, shared by the statement and the wire reader."""

from __future__ import annotations

from lark import Token, Tree


def tokens_of(tree: Tree[Token]) -> list[Token]:
    """Return the tokens directly under a tree."""
    return [child for child in tree.children if isinstance(child, Token)]


def first_of(tree: Tree[Token], kind: str) -> Token:
    """Return the first token of a terminal under a tree."""
    return next(token for token in tokens_of(tree) if token.type == kind)


def sub_of(tree: Tree[Token], name: str) -> Tree[Token] | None:
    """Return the first subtree of a rule, or ``None``."""
    return next(iter(subs_of(tree, name)), None)


def subs_of(tree: Tree[Token], name: str) -> list[Tree[Token]]:
    """Return the subtrees of a rule."""
    trees = (child for child in tree.children if isinstance(child, Tree))
    return [child for child in trees if child.data == name]


def amounts_of(tree: Tree[Token]) -> list[Tree[Token]]:
    """Return the ``amount`` trees directly under a tree."""
    return [c for c in tree.children if isinstance(c, Tree) and c.data == "amount"]


def ends_of(node: Token | Tree[Token]) -> tuple[int, int]:
    """Return the offsets where a node begins and ends in its line."""
    tokens = [node] if isinstance(node, Token) else list(node.scan_values(lambda _: True))
    return tokens[0].start_pos or 0, tokens[-1].end_pos or 0


def as_token(node: Token | Tree[Token]) -> Token:
    """Return the node, which the grammar says is a token."""
    assert isinstance(node, Token)
    return node


def as_tree(node: Token | Tree[Token] | None) -> Tree[Token]:
    """Return the node, which the grammar says is a tree."""
    assert isinstance(node, Tree)
    return node
