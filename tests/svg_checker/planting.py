"""Plants defects into a finished SVG, to see that the checker finds them there too."""

from __future__ import annotations

from xml.etree import ElementTree

SVG = "http://www.w3.org/2000/svg"
ElementTree.register_namespace("", SVG)


class Planter:
    """One SVG as a tree, to be damaged."""

    def __init__(self, svg: str) -> None:
        self.root = ElementTree.fromstring(svg.encode("utf-8"))
        self._parents = {child: parent for parent in self.root.iter() for child in parent}

    def groups(self, css: str, **data: str) -> list[ElementTree.Element]:
        """Return the groups with a class and these data- attributes."""
        return [
            element
            for element in self.root.iter(f"{{{SVG}}}g")
            if css in element.get("class", "").split()
            and all(element.get(f"data-{key}") == value for key, value in data.items())
        ]

    def move(self, element: ElementTree.Element, dx: float, dy: float) -> None:
        """Shift an element as its parent sees it."""
        before = element.get("transform", "")
        element.set("transform", f"translate({dx} {dy}) {before}".strip())

    def delete(self, element: ElementTree.Element) -> None:
        self._parents[element].remove(element)

    def repeat(self, element: ElementTree.Element) -> None:
        parent = self._parents[element]
        parent.insert(list(parent).index(element), element)

    def texts(self, element: ElementTree.Element) -> list[ElementTree.Element]:
        return list(element.iter(f"{{{SVG}}}text"))

    def svg(self) -> str:
        return ElementTree.tostring(self.root, encoding="unicode")
