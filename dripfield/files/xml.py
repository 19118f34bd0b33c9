"""An XML document of one namespace: every text made printable, the same bytes always."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from dripfield.core.words import plain


class XmlDocument:
    """An XML tree under construction; needs lxml.

    Parameters
    ----------
    tag : str
        Of the root.
    namespace : str
        Of every element.
    **attributes : str
        Of the root.
    """

    def __init__(self, tag: str, namespace: str, **attributes: str) -> None:
        from lxml import etree

        self._etree = etree
        self._space = f"{{{namespace}}}"
        self.root = etree.Element(f"{self._space}{tag}", nsmap={None: namespace}, **attributes)

    def add(self, parent: Any, tag: str, text: str | None = None, /, **attributes: str) -> Any:
        """Add a child to an element and return it.

        Parameters
        ----------
        parent : lxml element
        tag : str
            Without its namespace.
        text : str or None
            What the element holds.
        **attributes : str

        Returns
        -------
        lxml element
        """
        clean = {key: plain(value) for key, value in attributes.items()}
        child = self._etree.SubElement(parent, f"{self._space}{tag}", **clean)
        if text is not None:
            child.text = plain(text)
        return child

    def save(self, path: Path) -> None:
        """Write the tree as UTF-8."""
        path.write_bytes(
            self._etree.tostring(
                self.root, xml_declaration=True, encoding="UTF-8", pretty_print=True
            )
        )
