"""OpenSSL as a time authority, in a folder that somebody else removes."""

import sys

from verdicts import run

SETTINGS = """
[tsa]
default_tsa = here
[here]
serial = serial
default_policy = 1.2.3.4.1
digests = sha256
accuracy = secs:1
signer_digest = sha256
ess_cert_id_alg = sha256
"""


class Authority:
    """A time authority: a root of its own, and a certificate for time under it."""

    def __init__(self, folder, name, kind):
        self.folder, self.name = folder, name
        # The number of the next token is kept there too, and not where this runs.
        (folder / "ts.cnf").write_text(SETTINGS.replace("serial = serial", f"serial = {folder / 'serial'}"))
        (folder / "serial").write_text("01\n")
        key = {"rsa": ["-newkey", "rsa:2048"], "P-256": ["-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256"]}[kind]
        common = [*key, "-nodes", "-days", "30"]
        self.openssl(
            "req", "-x509", *common, "-subj", f"/CN=Root of {name}", "-keyout", self.at("root.key"), "-out", self.at("root.pem"),
            "-addext", "basicConstraints=critical,CA:TRUE", "-addext", "keyUsage=critical,keyCertSign",
        )
        for what, usage in [("time", "timeStamping"), ("mail", "emailProtection")]:
            self.openssl(
                "req", "-x509", *common, "-subj", f"/CN={name}, {what}", "-keyout", self.at(f"{what}.key"),
                "-out", self.at(f"{what}.pem"), "-CA", self.at("root.pem"), "-CAkey", self.at("root.key"),
                "-addext", "basicConstraints=critical,CA:FALSE", "-addext", "keyUsage=critical,digitalSignature",
                "-addext", f"extendedKeyUsage=critical,{usage}",
            )

    def at(self, file):
        return self.folder / f"{self.name}-{file}"

    def openssl(self, *words):
        code, out = run("openssl", *words)
        if code:
            sys.exit(f"error: openssl {' '.join(map(str, words[:2]))}: {out}\nhint: OpenSSL 3.0 or newer is needed")
        return out

    def stamp(self, question, answer):
        self.openssl(
            "ts", "-reply", "-config", self.folder / "ts.cnf", "-queryfile", question, "-signer", self.at("time.pem"),
            "-inkey", self.at("time.key"), "-out", answer,
        )
