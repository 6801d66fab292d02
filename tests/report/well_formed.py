"""A page is well-formed XML, runs its own script alone and asks for nothing; every drawing has a title and a description."""

import base64
import hashlib
import sys
import xml.etree.ElementTree as tree

HTML = "{http://www.w3.org/1999/xhtml}"
SVG = "{http://www.w3.org/2000/svg}"

root = tree.parse(sys.argv[1]).getroot()
faults = []
drawings = 0
for element in root.iter():
    name = element.tag.split("}")[1]
    if name in {"img", "image", "iframe", "object", "embed", "link", "use", "form", "base"}:
        faults.append(f"element {name}")
    for attribute in element.attrib:
        if name == "a" and attribute == "href" and element.get("href").startswith("#"):
            continue
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
scripts = [e for e in root.iter(HTML + "script") if e.get("type") != "application/json"]
source = open(sys.argv[1], encoding="utf-8").read().rsplit("<script>", 1)[1].split("</script>", 1)[0]
digest = base64.b64encode(hashlib.sha256(source.encode()).digest()).decode()
if len(scripts) != 1 or f"script-src 'sha256-{digest}'" not in policies[0] or "unsafe" in policies[0]:
    faults.append("a script that the policy does not name by its hash")
if drawings < 7:
    faults.append(f"only {drawings} drawings")
if "url(" in (root.findtext(f"{HTML}head/{HTML}style") or ""):
    faults.append("the style sheet asks for a file")
print("\n".join(faults) or f"{drawings} drawings, nothing wrong")
sys.exit(bool(faults))
