"""Fails when a folder of core/ includes a higher one, Qt, or a CAD kernel header outside its place."""
import pathlib
import re
import sys

ORDER = ["base", "space", "weldment", "shop", "setup", "check", "plan", "sheet"]
ALSO_BARRED = {"weldment": {"shop"}, "shop": {"weldment"}}
KERNEL_ALLOWED = ("core/space/", "core/worker/", "samples/builder/", "viewer/solid_view", "tests/")
# A view draws a set-up and returns ids: it knows neither checks nor pages nor the window.
VIEWER_SEES = ("base", "space", "weldment", "shop", "setup")


def main():
    root = pathlib.Path(sys.argv[1])
    faults = []
    for path in sorted(p for d in ("core", "app", "viewer", "samples") for p in (root / d).rglob("*") if p.suffix in (".h", ".cpp")):
        name = path.relative_to(root).as_posix()
        folder = name.split("/")[1] if name.startswith("core/") else None
        for number, line in enumerate(path.read_text().splitlines(), 1):
            found = re.match(r"\s*#\s*include\s*[<\"]([^>\"]+)[>\"]", line)
            if not found:
                continue
            header = found.group(1)
            if header.endswith(".hxx") and not name.startswith(KERNEL_ALLOWED):
                faults.append(f"{name}:{number}: kernel header {header}")
            if header.startswith("fcl/") and not name.startswith(("core/space/", "tests/")):
                faults.append(f"{name}:{number}: {header} outside core/space")
            if folder and re.match(r"Q[A-Z]|Qt", header):
                faults.append(f"{name}:{number}: Qt in core: {header}")
            if name.startswith("core/") and header.startswith(("app/", "viewer/")):
                faults.append(f"{name}:{number}: core includes {header}")
            if name.startswith("viewer/") and (header.startswith("app/") or (header.startswith("core/") and header.split("/")[1] not in VIEWER_SEES)):
                faults.append(f"{name}:{number}: viewer includes {header}")
            if folder in ORDER and header.startswith("core/"):
                other = header.split("/")[1]
                higher = other in ORDER and ORDER.index(other) > ORDER.index(folder)
                if higher or other == "worker" or other in ALSO_BARRED.get(folder, ()):
                    faults.append(f"{name}:{number}: {folder} includes {other}")
            if folder == "worker" and header.startswith("core/") and header.split("/")[1] not in ("base", "space", "worker"):
                faults.append(f"{name}:{number}: worker includes {header}")
    print("\n".join(faults) or "layout holds")
    return 1 if faults else 0


sys.exit(main())
