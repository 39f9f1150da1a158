#!/usr/bin/python3
"""check_report.py FILE.html... | --sample PROGRAM: a report, read strictly and opened in Chromium.

Every element is closed and every attribute quoted (an XML parser and an HTML parser agree), ids are unique, there is no script and
nothing is fetched; in a browser nothing reaches beyond the page at desktop and phone width, no text is cut off within a cell, and
it prints on A4. With --keep DIR, screenshots of both widths and the PDF are left there to be looked at."""
import os
import re
import shutil
import subprocess
import sys
import tempfile
import xml.etree.ElementTree
from html.parser import HTMLParser

WIDTHS = (1280, 360)
VOID = {"meta", "img", "br", "link", "hr"}

# Runs in a page of ours around the report; the report itself may not run anything.
MEASURE = """<!DOCTYPE html><html><body><pre id="out"></pre><script>
const lines = [];
function measure(frame, width) {
    const d = frame.contentDocument, root = d.documentElement;
    lines.push(`${width} scroll ${root.scrollWidth} client ${root.clientWidth} height ${root.scrollHeight}`);
    for (const e of d.body.querySelectorAll('*')) {
        if (e.closest('.frame') && !e.classList.contains('frame')) continue;  // scrolls by itself
        if (e.closest('svg') && e.tagName !== 'svg') continue;
        const box = e.getBoundingClientRect();
        if (box.right > root.clientWidth + 1 || box.left < -1)
            lines.push(`${width} BEYOND ${e.tagName} ${e.className} ${box.left} ${box.right} ${e.textContent.slice(0, 40)}`);
        if (['TD', 'TH', 'DD', 'P', 'LI'].includes(e.tagName) && e.scrollWidth > e.clientWidth + 1 && e.clientWidth > 0)
            lines.push(`${width} CUT ${e.tagName} ${e.className} ${e.scrollWidth} ${e.clientWidth} ${e.textContent.slice(0, 40)}`);
    }
    for (const i of d.images) if (!i.naturalWidth) lines.push(`${width} BLANK ${i.alt}`);
}
WHERE
</script></body></html>"""


class Tags(HTMLParser):
    def __init__(self):
        super().__init__()
        self.open, self.ids, self.problems = [], set(), []

    def handle_starttag(self, tag, attrs):
        self.look(tag, attrs)
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.look(tag, attrs)

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.problems.append(f"</{tag}> closes another element, line {self.getpos()[0]}")

    def look(self, tag, attrs):
        if tag in ("script", "iframe", "object", "embed", "link"):
            self.problems.append(f"<{tag}> in a report")
        for name, value in attrs:
            if name.startswith("on"):
                self.problems.append(f"a handler: {name}")
            if name in ("src", "href", "xlink:href") and not (value or "").startswith(("data:", "#")):
                self.problems.append(f"{name} leads outside: {value}")
            if name == "id":
                if value in self.ids:
                    self.problems.append(f"id {value} twice")
                self.ids.add(value)


def read_strictly(path):
    with open(path, encoding="utf-8") as file:
        text = file.read()
    tags = Tags()
    tags.feed(text)
    tags.close()
    problems = tags.problems + [f"<{tag}> is not closed" for tag in tags.open]
    try:
        xml.etree.ElementTree.fromstring(re.sub(r"^<!DOCTYPE html>", "", text))
    except xml.etree.ElementTree.ParseError as error:
        problems.append(f"not well-formed: {error}")
    for word in ("<h2>Cautions</h2>", "isolating transformer", "licensed technician", "<title>"):
        if word not in text:
            problems.append(f"{word} is missing")
    return problems


def chromium(folder, *arguments):
    return subprocess.run(
        ["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--hide-scrollbars",
         "--disable-background-networking", "--disable-component-update", "--disable-sync", "--disable-dev-shm-usage",
         "--allow-file-access-from-files", f"--user-data-dir={folder}/profile", *arguments],
        capture_output=True, text=True, timeout=120, check=True)


def look(path, folder):
    """Opens it at both widths; returns problems and what was measured."""
    frames = "".join(
        f"{{const f = document.createElement('iframe'); f.style.width = '{w}px'; f.style.height = '900px'; f.style.border = 0;"
        f"f.onload = () => {{ measure(f, {w}); document.getElementById('out').textContent = lines.join('\\n'); }};"
        f"f.src = 'report.html'; document.body.append(f);}}\n" for w in WIDTHS)
    shutil.copy(path, os.path.join(folder, "report.html"))
    page = os.path.join(folder, "measure.html")
    with open(page, "w", encoding="utf-8") as file:
        file.write(MEASURE.replace("WHERE", frames))
    dom = chromium(folder, "--window-size=1400,1000", "--virtual-time-budget=10000", "--dump-dom", "file://" + page).stdout
    found = re.search(r'<pre id="out">(.*?)</pre>', dom, re.S)
    lines = found.group(1).split("\n") if found else []
    problems = [line for line in lines if " scroll " not in line and line]
    for width in WIDTHS:
        sizes = [re.match(rf"{width} scroll (\d+) client (\d+) height (\d+)", line) for line in lines]
        sizes = [s for s in sizes if s]
        if not sizes:
            problems.append(f"the browser did not open it at {width} pixels")
        for size in sizes:
            if int(size.group(1)) > int(size.group(2)):
                problems.append(f"the page is {size.group(1)} wide in {size.group(2)} pixels")
            if int(size.group(3)) < 300:
                problems.append(f"the page is only {size.group(3)} high")
    return problems, [line for line in lines if " scroll " in line]


def print_a4(path, folder):
    pdf = os.path.join(folder, "report.pdf")
    chromium(folder, "--no-pdf-header-footer", f"--print-to-pdf={pdf}", "file://" + os.path.abspath(path))
    with open(pdf, "rb") as file:
        data = file.read()
    pages = len(re.findall(rb"/Type\s*/Page\b", data))
    boxes = {tuple(round(float(x)) for x in box.split()) for box in re.findall(rb"/MediaBox\s*\[([^\]]+)\]", data)}
    problems = [] if boxes == {(0, 0, 595, 842)} else [f"the paper is {boxes}, not A4"]
    if not 1 <= pages <= 60:
        problems.append(f"{pages} pages in print")
    return problems, pages


def check(path, keep):
    folder = tempfile.mkdtemp()
    try:
        problems = read_strictly(path)
        seen, measured = look(path, folder)
        printed, pages = print_a4(path, folder)
        problems += seen + printed
        print(f"{os.path.basename(path)}: {os.path.getsize(path)} bytes; {'; '.join(measured)}; {pages} pages of A4")
        if keep:
            os.makedirs(keep, exist_ok=True)
            shutil.copy(os.path.join(folder, "report.pdf"), keep)
            for width, height in ((1280, 2400), (360, 3000)):
                page = os.path.join(folder, f"at{width}.html")
                with open(page, "w", encoding="utf-8") as file:
                    file.write(f"<body style='margin:0'><iframe src='report.html' style='border:0;width:{width}px;"
                               f"height:{height}px'></iframe></body>")
                chromium(folder, f"--window-size={max(width, 500)},{height}",
                         f"--screenshot={os.path.abspath(keep)}/{width}.png", "file://" + page)
    finally:
        shutil.rmtree(folder, ignore_errors=True)
    for problem in problems:
        print(f"FAIL {os.path.basename(path)}: {problem}")
    return not problems


def main(arguments):
    keep = None
    if arguments[:1] == ["--keep"]:
        keep, arguments = arguments[1], arguments[2:]
    if len(arguments) == 2 and arguments[0] == "--sample":
        folder = tempfile.mkdtemp()
        try:
            path, again = os.path.join(folder, "sample.html"), os.path.join(folder, "again.html")
            for place in (path, again):
                subprocess.run([arguments[1], place], check=True, timeout=60)
            with open(path, "rb") as one, open(again, "rb") as two:
                if one.read() != two.read():
                    print("FAIL: two runs, two reports")
                    return 1
            return 0 if check(path, keep) else 1
        finally:
            shutil.rmtree(folder, ignore_errors=True)
    if not arguments or arguments[0].startswith("-"):
        print(__doc__)
        return 2
    return 0 if all([check(path, keep) for path in arguments]) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
