#!/usr/bin/python3
"""Checks a built site: every link inside leads somewhere, and nothing is loaded from elsewhere.

    check_links.py FOLDER

Relative links of pages and of style sheets must lead to a file of the site, and what follows `#` must be there. Pages may
link to other sites but load nothing from them.
"""

import functools
import html.parser
import pathlib
import re
import sys
import urllib.parse

LOADED = {("script", "src"), ("link", "href"), ("img", "src"), ("iframe", "src"), ("source", "src"), ("video", "src"),
          ("audio", "src"), ("embed", "src"), ("object", "data"), ("use", "href"), ("image", "href"),
          ("use", "xlink:href"), ("image", "xlink:href"), ("img", "srcset"), ("source", "srcset")}
NOT_LOADED = {"canonical", "next", "prev", "author", "license", "alternate"}
OUTSIDE = re.compile(r"(?:[a-z]+:)?//", re.I)
STYLE_URL = re.compile(r"""url\(\s*["']?([^"')]+)|@import\s+["']([^"']+)""", re.I)


class Page(html.parser.HTMLParser):
    def __init__(self, text):
        super().__init__()
        self.links, self.loads, self.anchors = [], [], set()
        self.in_style = False
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        values = {name: value or "" for name, value in attributes}
        self.anchors.update(values[name] for name in ("id", "name") if values.get(name))
        self.in_style = tag == "style"
        for name, value in values.items():
            related = set(values.get("rel", "").split())
            if (tag, name) in LOADED and not (tag == "link" and related & NOT_LOADED):
                self.loads.append(value)
            elif name in ("href", "src"):
                self.links.append(value)
            elif name == "style":
                self.loads += style_urls(value)

    def handle_data(self, data):
        if self.in_style:
            self.loads += style_urls(data)

    def handle_endtag(self, tag):
        self.in_style = False


def style_urls(text):
    return [one or other for one, other in STYLE_URL.findall(text)]


def check(site):
    """What is wrong with the site in this folder, one line each."""
    site = pathlib.Path(site).resolve()
    faults, pages = [], {}
    for path in sorted(site.rglob("*.html")):
        pages[path] = Page(path.read_text(encoding="utf-8"))
    if not pages:
        return [f"{site}: no page"]
    for path, page in pages.items():
        for link in dict.fromkeys(page.loads + page.links):
            faults += fault_of(site, path, link, pages, loaded=link in page.loads)
    for path in sorted([*site.rglob("*.css"), *site.rglob("*.svg")]):
        text = re.sub(r"/\*.*?\*/", "", path.read_text(encoding="utf-8"), flags=re.S)
        for link in style_urls(text):
            faults += fault_of(site, path, link, None, loaded=True)
    return faults


@functools.cache
def file_at(site, folder, target):
    """The file of the site that a path leads to from a folder: None if it leads to none. Pages of one folder share most links."""
    path = (folder / target).resolve()
    if path.is_dir():
        path /= "index.html"
    return path if path.is_relative_to(site) and path.is_file() else None


def fault_of(site, origin, link, pages, loaded):
    shown = origin.relative_to(site)
    if re.match(r"(?:data|mailto|javascript):", link, re.I):
        return []
    if OUTSIDE.match(link):
        return [f"{shown}: loads {link}"] if loaded else []
    parts = urllib.parse.urlsplit(link)
    target = urllib.parse.unquote(parts.path)
    folder = site if target.startswith("/") else origin.parent
    path = file_at(site, folder, target.lstrip("/")) if target else origin
    if not path:
        return [f"{shown}: {link} leads nowhere"]
    anchor = urllib.parse.unquote(parts.fragment)
    if pages and anchor and path in pages and anchor not in pages[path].anchors and anchor not in ("", "__top"):
        return [f"{shown}: {link}: no such place on that page"]
    return []


if __name__ == "__main__":
    found = check(sys.argv[1])
    print(*found, sep="\n")
    sys.exit(1 if found else 0)
