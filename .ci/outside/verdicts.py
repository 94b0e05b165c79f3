"""What pdfsig and pyHanko say of a file, in their own words."""

import logging
import re
import subprocess
from io import BytesIO

from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.sign.validation import validate_pdf_signature
from pyhanko_certvalidator import ValidationContext

# pyHanko logs every refusal with a stack trace; the verdicts are what counts here.
logging.getLogger("pyhanko").setLevel(logging.CRITICAL)
logging.getLogger("pyhanko_certvalidator").setLevel(logging.CRITICAL)


def run(*words):
    """Exit code and what a tool printed, both streams."""
    done = subprocess.run([str(word) for word in words], capture_output=True, text=True, check=False, errors="replace")
    # zbarimg complains where there is no message bus, poppler of a boolean that is one.
    noise = re.compile(r"^(Connection |Syntax Error: Suspects object).*\n?", re.M)
    return done.returncode, noise.sub("", done.stdout + done.stderr)


def pyhanko_status(data, certificate):
    """pyHanko's status of the first signature and how many there are; nothing is fetched."""
    reader = PdfFileReader(BytesIO(data))
    signatures = reader.embedded_signatures
    context = ValidationContext(trust_roots=[certificate] if certificate else [], allow_fetching=False)
    return validate_pdf_signature(signatures[0], signer_validation_context=context), len(signatures)


def pdfsig_words(path):
    """pdfsig's verdict on the first signature, and on how much of the file it covers."""
    _, out = run("pdfsig", "-nocert", path)
    validity = re.search(r"Signature Validation: (.*)", out)
    coverage = re.search(r"^\s*- ((?:Not t|T)otal document signed)", out, re.M)
    return (
        validity.group(1).strip() if validity else "no signature",
        coverage.group(1) if coverage else "no coverage",
    )
