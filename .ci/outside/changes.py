"""The ways in which a signed report is changed for the matrix; each gives a whole file."""

import re
from io import BytesIO

import pikepdf

LINE = b"0.85 0.1 0.1 RG 4 w 90 420 320 180 re S"


def revision(data, objects, extra=b""):
    """Appends a revision with these objects, the way PDF editors do (ISO 32000-1, 7.5.6)."""
    previous = int(re.findall(rb"startxref\s+(\d+)\s+%%EOF", data)[-1])
    trailer = re.findall(rb"trailer\s*<<(.*?)>>\s*startxref", data, re.S)[-1]
    root = re.search(rb"/Root\s+\d+ \d+ R", trailer).group()
    info = re.search(rb"/Info\s+\d+ \d+ R", trailer)
    size = max(int(re.search(rb"/Size\s+(\d+)", trailer).group(1)), max(objects) + 1)
    out, table = bytearray(data + b"\n"), b"xref\n"
    for number in sorted(objects):
        table += b"%d 1\n%010d 00000 n \n" % (number, len(out))
        out += b"%d 0 obj\n" % number + objects[number] + b"\nendobj\n"
    start = len(out)
    entries = b" ".join([root, info.group() if info else b"", b"/Size %d /Prev %d" % (size, previous), extra])
    return bytes(out + table + b"trailer\n<<" + entries + b">>\nstartxref\n%d\n%%%%EOF\n" % start)


def stream(entries, content):
    """A stream object."""
    return b"<<" + entries + b" /Length %d>>\nstream\n" % len(content) + content + b"\nendstream"


def none(data):
    return data


def has_photo(data):
    """Whether a JPEG lies in the file as it is."""
    return b"\xff\xd8\xff" in data


def bit_in_photo(data):
    """One bit inside the entropy-coded part of the first JPEG."""
    start = data.index(b"\xff\xd8\xff")
    place = data.index(b"\xff\xda", start) + 2000
    return data[:place] + bytes([data[place] ^ 0x10]) + data[place + 1 :]


def box_on_page(data):
    """A revision that draws a red box on page 1."""
    with pikepdf.open(BytesIO(data)) as pdf:
        page, number = pdf.pages[0].obj, len(pdf.objects) + 1
        contents = page["/Contents"]
        parts = list(contents) if isinstance(contents, pikepdf.Array) else [contents]
        references = " ".join("%d %d R" % part.objgen for part in parts)
        page["/Contents"] = pikepdf.Name("/Put-here")
        text = page.unparse(resolved=True).replace(b"/Put-here", b"[ %s %d 0 R ]" % (references.encode(), number))
        return revision(data, {page.objgen[0]: text, number: stream(b"", LINE)})


def embedded_swapped(data):
    """A revision that exchanges the embedded record for one with another digit in it."""
    with pikepdf.open(BytesIO(data)) as pdf:
        file = pdf.Root.Names.EmbeddedFiles.Names[1].EF.F
        record = file.read_bytes()
        place = re.search(rb'"sequence":(\d)', record).start(1)
        record = record[:place] + (b"7" if record[place : place + 1] != b"7" else b"8") + record[place + 1 :]
        return revision(data, {file.objgen[0]: stream(b"/Type /EmbeddedFile /Subtype /application#2Fjson", record)})


def title_changed(data):
    """A revision that gives the document another title in its information dictionary."""
    with pikepdf.open(BytesIO(data)) as pdf:
        info = pdf.trailer["/Info"]
        info["/Title"] = pikepdf.String("Another title")
        return revision(data, {info.objgen[0]: info.unparse(resolved=True)})


def remark_at_end(data):
    """A comment behind the end of the file."""
    return data + b"\n% a remark\n"


def padding_digit(data):
    """One digit in the zeros behind the signature's bytes."""
    close = re.search(rb"/Contents\s*<[0-9a-fA-F]{2000,}0>", data).end() - 2
    return data[:close] + b"1" + data[close + 1 :]


def saved_again(data):
    """Opened and saved by a program that rewrites the file."""
    out = BytesIO()
    with pikepdf.open(BytesIO(data)) as pdf:
        pdf.save(out)
    return out.getvalue()
