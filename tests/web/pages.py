"""Reading a page as a person would: its tables, its links, its words."""

import re
from html import unescape


def tables(html: str) -> dict[str, list[list[str]]]:
    """The body rows of every table that has an id, each row as its cells' text."""
    found = {}
    for name, table in re.findall(r'<table[^>]*\bid="([^"]+)"[^>]*>(.*?)</table>', html, re.S):
        body = "".join(re.findall(r"<tbody[^>]*>(.*?)</tbody>", table, re.S))
        rows = re.findall(r"<tr[^>]*>(.*?)</tr>", body, re.S)
        found[name] = [[text(cell) for cell in re.findall(r"<t[dh][^>]*>(.*?)</t[dh]>", row, re.S)] for row in rows]
    return found


def text(html: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).split())


def links(html: str) -> list[str]:
    """Every address on the page that stays within the studio."""
    return [unescape(url) for url in re.findall(r'<a\b[^>]*\bhref="(/[^"#]*)', html)]
