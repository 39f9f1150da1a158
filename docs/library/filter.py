#!/usr/bin/env python3
"""Turns the headers' plain comments into documentation comments, for doxygen.

- The comment that opens a file describes the file.
- A comment before declarations describes each of those that follow it without a blank line.
- A comment behind a member, value or macro describes it; all of them where a line declares several.
- A member without one is described by the comment that heads its group.
"""
import re
import sys

DECLARES = re.compile(r"^(\s*)((?:const )?[A-Za-z_]\w*(?: \w+)*?) (\*?\w+(?:\[\w+(?: \+ 2 \* \w+)?\])*(?:, \*?\w+(?:\[\w+\])*)+);(.*)$")


def blocks(lines):
    """A comment at the start of a line stays as it is, as one item."""
    out, gathering = [], False
    for line in lines:
        if gathering:
            out[-1] += "\n" + line
            gathering = "*/" not in line
        elif line.startswith("/*"):
            out.append(line)
            gathering = "*/" not in line
        else:
            out.append(line)
    return out


def members(line, group):
    """One documented line for each thing that `line` declares, or values of an enum."""
    comment = re.search(r"\s*/\*(.*?)\*/\s*$", line)
    text = comment.group(1).strip() if comment else group
    code = line[: comment.start()] if comment else line
    if not text:
        return [line]
    match = DECLARES.match(code)
    if match:
        indent, kind, names = match.group(1), match.group(2), match.group(3)
        return [f"{indent}{kind} {name}; /**< {text} */" for name in names.split(", ")]
    values = re.fullmatch(r"\s*(\w+(?:, \w+)+,?)\s*", code)
    if values:
        return [f"{value}, /**< {text} */" for value in values.group(1).rstrip(",").split(", ")]
    if re.search(r"[;,]\s*$", code) or re.fullmatch(r"\s*\w+\s*", code) or code.startswith("#define"):
        return [f"{code} /**< {text} */"]
    return [line]


def filtered(text):
    items = blocks(text.split("\n"))
    out, group, before, depth, first, kind = [], "", "", 0, True, ""
    merged = []  # members' comments over several lines, on one
    for item in items:
        if merged and not merged[-1].startswith("/*") and merged[-1].count("/*") > merged[-1].count("*/"):
            merged[-1] += " " + item.strip()
        else:
            merged.append(item)
    for item in merged:
        if first and item.startswith("/*"):
            out.append("/** @file\n" + item[2:])
            first = False
        elif item.startswith("/* ----"):
            before = ""
            out.append(item)
        elif item.startswith("/*"):
            before = item
        elif depth > 0 and item.startswith("}"):
            depth, group = 0, ""
            out.append(item)
        elif depth > 0 and re.match(r"^\s+/\*.*\*/$", item):
            group = item.strip()[2:-2].strip()
        elif depth > 0:
            if item.strip() == "":
                group = group if kind == "enum" else ""
            out.extend(members(item, group))
        elif item.strip() == "":
            before = ""
            out.append(item)
        elif item.startswith("#define") and "/*" in item:
            out.extend(members(item, ""))
        else:
            if before and re.match(r"^(typedef|#define|[a-z]\w*.*\()", item):
                out.append("/**" + before[2:])
            out.append(item)
            if re.match(r"^typedef (struct|enum) \w+ \{$", item):
                depth, kind = 1, item.split()[1]
                group = "This defect; hyoid_fault_describe has its name and meaning." if "hyoid_fault {" in item else ""
    return "\n".join(out)


def for_cpp(text):
    """Classes: each comment that starts a line is documentation."""
    text = re.sub(r"^/\*", "/** @file\n", text, count=1)
    text = re.sub(r"^namespace", "/** hyoid for C++17 */\nnamespace", text, count=1, flags=re.M)
    return re.sub(r"^(\s+)/\* ", r"\1/** ", re.sub(r"^/\* ", "/** ", text, flags=re.M), flags=re.M)


source = open(sys.argv[1], encoding="utf-8").read()
if sys.argv[1].endswith(".h"):
    source = filtered(source)
elif sys.argv[1].endswith(".hpp"):
    source = for_cpp(source)
sys.stdout.write(source)
