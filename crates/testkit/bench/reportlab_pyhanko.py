"""Makes the report of the benchmark with ReportLab and signs it with pyHanko; prints its times as JSON.

Usage: python reportlab_pyhanko.py content.json

What one report takes: canonical JSON, digest and signature of the record; pages with the texts, photos and paths,
fonts embedded as subsets; the record attached; a PAdES baseline signature that certifies the file, with the same
kind of key. The pages are made in two ways: laid out by ReportLab (paragraphs, tables, pictures and drawings that
flow), and with every mark put where the content says, so that nothing is laid out. The start of Python, the reading
of fonts and the making of key and certificate are left out of the time. No tags and no PDF/A, which our side writes.
"""

import datetime
import hashlib
import html
import importlib.metadata
import io
import json
import resource
import statistics
import sys
import time

from asn1crypto import keys as asn1_keys
from asn1crypto import x509 as asn1_x509
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID
from pyhanko.pdf_utils import embed
from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
from pyhanko.sign import fields, signers
from pyhanko_certvalidator.registry import SimpleCertificateStore
from reportlab import platypus
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen import canvas

RUNS = 9
TABLE_STYLE = [("TOPPADDING", (0, 0), (-1, -1), 0), ("BOTTOMPADDING", (0, 0), (-1, -1), 0)]


def make_signer():
    """A P-256 key with a certificate it issued itself."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Workshop at the Weir")])
    start = datetime.datetime(2026, 3, 1, tzinfo=datetime.timezone.utc)
    usage = x509.KeyUsage(True, True, False, False, False, False, False, False, False)
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(1)
        .not_valid_before(start)
        .not_valid_after(start + datetime.timedelta(days=36500))
        .add_extension(usage, critical=True)
        .sign(key, hashes.SHA256())
    )
    der = key.private_bytes(
        serialization.Encoding.DER, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    signer = signers.SimpleSigner(
        signing_cert=asn1_x509.Certificate.load(certificate.public_bytes(serialization.Encoding.DER)),
        signing_key=asn1_keys.PrivateKeyInfo.load(der),
        cert_registry=SimpleCertificateStore(),
    )
    return key, signer


def seal(key, record):
    """Canonical bytes (keys sorted, no space), digests and signature."""
    proof = record.pop("proof")
    value = proof.pop("proofValue")
    parts = [
        json.dumps(part, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()
        for part in (proof, record)
    ]
    message = b"".join(hashlib.sha256(part).digest() for part in parts)
    key.sign(message, ec.ECDSA(hashes.SHA256()))
    record["proof"] = dict(proof, proofValue=value)
    return json.dumps(record, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()


def draw_path(page_canvas, mark, scale=1.0, origin=(0, 0)):
    """A path of the drawings."""
    path = page_canvas.beginPath()
    place = [path.moveTo, path.lineTo, path.curveTo]
    for letter, *points in mark["path"]:
        numbers = [(value - origin[axis]) * scale for point in points for axis, value in enumerate(point)]
        if letter == "h":
            path.close()
        else:
            place["mlc".index(letter)](*numbers)
    page_canvas.drawPath(path, fill=int(mark["fill"]), stroke=int(mark["stroke"]))


def draw_placed(content):
    """The pages, every mark at its place."""
    buffer = io.BytesIO()
    page_canvas = canvas.Canvas(buffer, invariant=1)
    for page in content["pages"]:
        page_canvas.setPageSize((page["width"], page["height"]))
        for mark in page["marks"]:
            if "text" in mark:
                page_canvas.setFont("bold" if mark["bold"] else "regular", mark["size"])
                page_canvas.drawString(mark["x"], mark["y"], mark["text"])
            elif "photo" in mark:
                path = content["photos"][mark["photo"]]
                page_canvas.drawImage(path, mark["x"], mark["y"], mark["width"], mark["height"])
            else:
                draw_path(page_canvas, mark)
        page_canvas.showPage()
    page_canvas.save()
    return buffer.getvalue()


class Drawing(platypus.Flowable):
    """The paths of one page, as one figure."""

    def __init__(self, marks):
        super().__init__()
        self.marks = marks

    def wrap(self, width, height):
        return (width, 20)

    def draw(self):
        for mark in self.marks:
            draw_path(self.canv, mark, scale=0.02)


def rows_of(page):
    """The texts of a page as rows: those on one line are cells of one row."""
    lines = {}
    for mark in page["marks"]:
        if "text" in mark:
            lines.setdefault(round(mark["y"], 1), []).append(mark)
    return [sorted(line, key=lambda mark: mark["x"]) for _, line in sorted(lines.items(), reverse=True)]


def draw_laid_out(content):
    """The pages, laid out: lines of several texts as tables, single texts as paragraphs."""
    # Three quarters of our sizes, so that ReportLab's wider spacing keeps the page breaks.
    styles = {}

    def paragraph(mark):
        key = (mark["bold"], mark["size"])
        if key not in styles:
            size = 0.75 * mark["size"]
            face = "bold" if mark["bold"] else "regular"
            styles[key] = ParagraphStyle(str(key), fontName=face, fontSize=size, leading=size * 1.1)
        return platypus.Paragraph(html.escape(mark["text"]), styles[key])

    story = []
    for number, page in enumerate(content["pages"]):
        if number:
            story.append(platypus.PageBreak())
        table = []
        for row in [*rows_of(page), []]:
            if table and len(row) != len(table[0]):
                story.append(platypus.Table(table, style=TABLE_STYLE))
                table = []
            if len(row) > 1:
                table.append([paragraph(mark) for mark in row])
            elif row:
                story.append(paragraph(row[0]))
        paths = [mark for mark in page["marks"] if "path" in mark]
        if paths:
            story.append(Drawing(paths))
        for mark in page["marks"]:
            if "photo" in mark:
                story.append(platypus.Image(content["photos"][mark["photo"]], mark["width"] / 3, mark["height"] / 3))
    buffer = io.BytesIO()
    first = content["pages"][0]
    document = platypus.SimpleDocTemplate(
        buffer, pagesize=(first["width"], first["height"]), invariant=1,
        leftMargin=40, rightMargin=40, topMargin=20, bottomMargin=20,
    )
    document.build(story)
    if document.page != len(content["pages"]):
        sys.exit(f"ReportLab made {document.page} pages, {len(content['pages'])} wanted")
    return buffer.getvalue()


def sign(pdf, record, signer):
    """Attaches the record and certifies the file."""
    output = IncrementalPdfFileWriter(io.BytesIO(pdf))
    stream = embed.EmbeddedFileObject.from_file_data(output, record, mime_type="application/json")
    embed.embed_file(output, embed.FileSpec("record.json", embedded_data=stream))
    metadata = signers.PdfSignatureMetadata(
        field_name="issuer",
        certify=True,
        md_algorithm="sha256",
        subfilter=fields.SigSeedSubFilter.PADES,
        docmdp_permissions=fields.MDPPerm.NO_CHANGES,
    )
    return signers.sign_pdf(output, metadata, signer=signer).getvalue()


def main():
    with open(sys.argv[1], encoding="utf-8") as file:
        content = json.load(file)
    with open(content["record"], encoding="utf-8") as file:
        record = json.load(file)
    pdfmetrics.registerFont(TTFont("regular", content["regular"]))
    pdfmetrics.registerFont(TTFont("bold", content["bold"]))
    key, signer = make_signer()
    medians = {}
    signed = b""
    for name, draw in (("microseconds_placed", draw_placed), ("microseconds", draw_laid_out)):
        taken = []
        # The first run fills caches and is not counted.
        for run in range(RUNS + 1):
            start = time.process_time()
            sealed = seal(key, record)
            signed = sign(draw(content), sealed, signer)
            if run:
                taken.append(time.process_time() - start)
        medians[name] = statistics.median(taken) * 1e6
    tools = ", ".join(f"{name} {importlib.metadata.version(name)}" for name in ("reportlab", "pyHanko"))
    versions = f"{tools}, Python {sys.version.split()[0]}"
    answer = {
        **medians,
        "pdf_bytes": len(signed),
        "peak_memory_kb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss,
        "versions": versions,
    }
    json.dump(answer, sys.stdout)


if __name__ == "__main__":
    main()
