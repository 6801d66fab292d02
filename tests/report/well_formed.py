"""The report is well-formed XML, runs nothing and asks for nothing; every drawing has a title and a description."""

import sys
import xml.etree.ElementTree as tree

HTML = "{http://www.w3.org/1999/xhtml}"
SVG = "{http://www.w3.org/2000/svg}"

root = tree.parse(sys.argv[1]).getroot()
faults = []
drawings = 0
for element in root.iter():
    name = element.tag.split("}")[1]
    if name in {"script", "img", "image", "iframe", "object", "embed", "link", "a", "use", "form", "base"}:
        faults.append(f"element {name}")
    for attribute in element.attrib:
        if attribute.lower().startswith("on") or attribute.split("}")[-1] in {"src", "href", "srcset", "action", "data"}:
            faults.append(f"attribute {attribute} of {name}")
    if element.tag == SVG + "svg":
        drawings += 1
        for child in ("title", "desc"):
            if not (element.findtext(SVG + child) or "").strip():
                faults.append(f"drawing {drawings} without {child}")
        for part in element.iter():
            if any(word in value for value in part.attrib.values() for word in ("nan", "inf")):
                faults.append(f"drawing {drawings}: a coordinate that is no number")
policies = [m.get("content") for m in root.iter(HTML + "meta") if m.get("http-equiv") == "Content-Security-Policy"]
if len(policies) != 1 or "default-src 'none'" not in policies[0]:
    faults.append("no strict content security policy")
if drawings < 9:
    faults.append(f"only {drawings} drawings")
if "url(" in (root.findtext(f"{HTML}head/{HTML}style") or ""):
    faults.append("the style sheet asks for a file")
print("\n".join(faults) or f"{drawings} drawings, nothing wrong")
sys.exit(bool(faults))
