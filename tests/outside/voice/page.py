"""page.py: the blocks of docs/voice.md that programs write, each between two markers; the text around them is written by hand."""
import os
import sys

SOURCE = os.environ.get("HYOID_SOURCE", os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", ".."))
PAGE = os.path.join(SOURCE, "docs", "voice.md")


def parts(name):
    """The page before the block, the block, and the page behind it."""
    with open(PAGE, encoding="utf-8") as f:
        text = f.read()
    first, last = f"<!-- begin {name} -->\n", f"<!-- end {name} -->\n"
    if text.count(first) != 1 or text.count(last) != 1:
        sys.exit(f"{PAGE}: no block '{name}' between {first.strip()} and {last.strip()}")
    before, rest = text.split(first)
    block, behind = rest.split(last)
    return before + first, block, last + behind


def write(name, block):
    before, _, behind = parts(name)
    with open(PAGE, "w", encoding="utf-8") as out:
        out.write(before + block + behind)
    print(f"written: {PAGE}")


def is_current(name, block):
    """Says which lines differ and by what command the page is brought up to date."""
    old, new = parts(name)[1].splitlines(), block.splitlines()
    if old == new:
        return True
    print(f"{PAGE} is not current; write it again with: {os.path.relpath(sys.argv[0], SOURCE)} --write")
    for line in [f"  - {l}" for l in old if l not in new][:5] + [f"  + {l}" for l in new if l not in old][:5]:
        print(line)
    return False


def is_current_or_other(name, block):
    """A block begins with a line that names the tools; one that other tools measured is not compared."""
    said, here = (text.split("\n")[0] for text in (parts(name)[1], block))
    if said != here:
        print(f"{PAGE} says '{said}', here it is '{here}': not compared")
        return True
    return is_current(name, block)
