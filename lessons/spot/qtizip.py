"""The zip around items of QTI 3.0: a manifest that names every file, the items and their pictures."""

from __future__ import annotations

import io
import xml.etree.ElementTree as ET
import zipfile
from collections.abc import Mapping, Sequence

PACKAGE = "http://www.imsglobal.org/xsd/qti/qtiv3p0/imscp_v1p1"
XSI = "http://www.w3.org/2001/XMLSchema-instance"
SCHEMAS = "https://purl.imsglobal.org/spec/qti/v3p0/schema/xsd"
#: The earliest day that a zip can name: the same files give the same bytes.
NO_DATE = (1980, 1, 1, 0, 0, 0)


def zipped(resources: Sequence[tuple[str, Sequence[str]]], files: Mapping[str, bytes]) -> bytes:
    """The package.

    resources : (id of an item, names of its files, its own first)
    files     : name -> what is in it
    """
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as package:
        for name, data in {"imsmanifest.xml": written(_manifest(resources)), **files}.items():
            package.writestr(zipfile.ZipInfo(name, NO_DATE), data, zipfile.ZIP_DEFLATED)
    return out.getvalue()


def text_in(parent: ET.Element, name: str, text: str) -> ET.Element:
    """A new element with a text."""
    element = ET.SubElement(parent, name)
    element.text = text
    return element


def written(root: ET.Element) -> bytes:
    """An element as a file."""
    ET.indent(root)
    text: bytes = ET.tostring(root, encoding="UTF-8", xml_declaration=True)
    return text


def _manifest(resources: Sequence[tuple[str, Sequence[str]]]) -> ET.Element:
    root = ET.Element("manifest", {
        "xmlns": PACKAGE, "xmlns:xsi": XSI,
        "xsi:schemaLocation": f"{PACKAGE} {SCHEMAS}/imsqtiv3p0_imscpv1p2_v1p0.xsd", "identifier": "furcal_items",
    })  # fmt: skip
    metadata = ET.SubElement(root, "metadata")
    text_in(metadata, "schema", "QTI Package")
    text_in(metadata, "schemaversion", "3.0.0")
    ET.SubElement(root, "organizations")
    holder = ET.SubElement(root, "resources")
    for name, files in resources:
        resource = ET.SubElement(
            holder, "resource", identifier=f"resource_{name}", type="imsqti_item_xmlv3p0", href=files[0]
        )
        for file in files:
            ET.SubElement(resource, "file", href=file)
    return root
