"""Pages as a browser would find them, and names that could do harm in one.

Contrast after the World Wide Web Consortium, Web Content Accessibility Guidelines 2.1, 2018 (relative luminance;
coefficients from memory). All names, fields, robots and runs are invented.
"""

from __future__ import annotations

import base64
import hashlib
import re
from dataclasses import replace
from html.parser import HTMLParser
from typing import Any

from matplotlib.colors import to_rgb
from plans import TYPICAL, robot

from fieldsim.model import (
    Act,
    Attachment,
    Box,
    Field,
    Jig,
    Line,
    Obstacle,
    Run,
    Sensor,
    Square,
    StartArea,
    Straight,
    Target,
    Turn,
    Until,
)

HARMFUL = (
    "<script>alert(1)</script>",
    "--><b>bold</b><!--",
    "' onload='alert(3)",
    "</svg><iframe src=//x.example>",
    '"><img src=x onerror=alert(2)>',
    "&lt;i&gt; $x^2$ {7} %s",
    "</style><style>*{display:none}",
)


def named(*names: str) -> Run:
    """A run in which every name is one of these: of field, obstacle, target, jig, area, line, robot, attachment."""
    run, field, robot_name, near, jig, target, worn = names
    scoop = Attachment(worn, ((110.0, -40.0), (150.0, -40.0), (150.0, 40.0), (110.0, 40.0)), (15.0, 60.0), (145.0, 0.0))
    sensor = Sensor(f"s {near}"[:80], (90.0, 30.0))
    yard = Field(
        field, (2400.0, 1200.0),
        obstacles=(
            Obstacle(near, Box((30.0, 20.0), (60.0, 40.0)), (0.0, 30.0)),
            Obstacle(f"2 {near}"[:80], Box((260.0, 300.0), (90.0, 90.0))),
        ),
        targets=(Target(target, (130.0, 500.0), 40.0),),
        jigs=(Jig(jig, (60.0, 0.0), 90.0, "rear left"),),
        start_areas=(StartArea(f"a {jig}"[:80], Box((150.0, 150.0), (300.0, 300.0))),),
        lines=(Line(f"l {target}"[:80], (0.0, 900.0), (2400.0, 900.0), 20.0),),
    )  # fmt: skip
    box = replace(robot(TYPICAL), name=robot_name, sensors=(sensor,), attachments=(scoop,))
    return Run(
        run, yard, box, jig,
        (
            Straight(295.0), Act(target, takes=1.0), Straight(-50.0, may_touch=(near,)), Turn(-90.0),
            Square("rear", against="left wall", reach=150.0), Turn(90.0), Until(f"l {target}"[:80], sensor.name, 600.0),
        ),
        wear=(worn,), finish=f"a {jig}"[:80],
    )  # fmt: skip


EMPTY = {"meta", "input", "br", "img", "link"}
ALLOWED = {
    "html", "head", "meta", "title", "style", "body", "header", "main", "footer", "h1", "h2", "p", "div", "figure",
    "ul", "li", "label", "input", "table", "thead", "tbody", "tr", "th", "td", "br", "details", "summary",
    "section", "figcaption", "ol", "dl", "dt", "dd", "code", "script",
    "svg", "g", "path", "defs", "text", "use", "clippath", "rect", "tspan", "image", "pattern", "circle",
}  # fmt: skip


class Page(HTMLParser):
    """What a browser would find: elements, their attributes and texts. Checks that all are closed in order."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[tuple[str, str]] = []
        self.raw: list[tuple[str, str]] = []
        self.feed(html)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        if tag not in EMPTY:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] == "script":
            # What is between its tags is one text, whole.
            self.raw.append(("script", data))
        elif data.strip():
            self.texts.append((self.open[-1] if self.open else "", data))

    def handle_comment(self, data: str) -> None:
        raise AssertionError(f"a comment: {data}")

    def all(self, tag: str) -> list[dict[str, str | None]]:
        return [attributes for name, attributes in self.elements if name == tag]

    def said(self, *tags: str) -> list[str]:
        return [text.strip() for tag, text in self.texts if tag in tags]


def harmless(page: Page) -> None:
    """Nothing in it runs but the script that the page names by its hash, nothing loads or leads elsewhere."""
    allowed = re.findall(r"'sha256-([^']+)'", str([each.get("content") for each in page.all("meta")]))
    scripts = [text for tag, text in page.raw if tag == "script"]
    data = [attributes.get("type") for attributes in page.all("script")].count("application/json")
    hashes = [base64.b64encode(hashlib.sha256(text.encode()).digest()).decode() for text in scripts]
    assert sum(each in allowed for each in hashes) == len(scripts) - data == len(allowed)
    assert not any(attributes.get("src") for attributes in page.all("script"))
    for tag, attributes in page.elements:
        assert tag in ALLOWED, tag
        for name, value in attributes.items():
            assert not name.startswith("on"), (tag, name)
            if name in ("href", "xlink:href", "src", "action"):
                assert value is not None
                assert value.startswith("#") or (tag == "image" and value.startswith("data:image/png;base64,")), value


def luminance(color: Any) -> float:
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in to_rgb(color))
    return float(0.2126 * r + 0.7152 * g + 0.0722 * b)


def contrast(one: Any, other: Any) -> float:
    a, b = sorted((luminance(one), luminance(other)))
    return (b + 0.05) / (a + 0.05)
