"""Makes the report of the benchmark with ReportLab and signs it with pyHanko; prints its times as JSON.

Usage: python reportlab_pyhanko.py content.json

The content is drawn where it is told to be, so nothing is laid out here. What one report takes: canonical JSON,
digest and signature of the record; pages with texts, photos and lines, fonts embedded as subsets; the record
attached; a PAdES baseline signature that certifies the file, with the same kind of key. The start of Python, the
reading of fonts and the making of key and certificate are left out of the time.
"""

import datetime
import hashlib
import io
import json
import resource
import statistics
import sys
import time

import pyhanko
import reportlab
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
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen import canvas

RUNS = 9


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


def draw(content):
    """The pages."""
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
                page_canvas.line(50, 50, 60, 60)
        page_canvas.showPage()
    page_canvas.save()
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
    taken = []
    signed = b""
    # The first run fills caches and is not counted.
    for run in range(RUNS + 1):
        start = time.perf_counter()
        sealed = seal(key, record)
        signed = sign(draw(content), sealed, signer)
        if run:
            taken.append(time.perf_counter() - start)
    versions = f"reportlab {reportlab.Version}, pyHanko {pyhanko.__version__}, Python {sys.version.split()[0]}"
    answer = {
        "microseconds": statistics.median(taken) * 1e6,
        "pdf_bytes": len(signed),
        "peak_memory_kb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss,
        "versions": versions,
    }
    json.dump(answer, sys.stdout)


if __name__ == "__main__":
    main()
