"""The certificate under which a workbench is served encrypted: one that was given, or one of its own.

A certificate of our own is made by the machine's `openssl`, together with an authority that vouches for it:
phones trust authorities, not single certificates. The authority's key is thrown away once it has signed, so
whoever trusts it trusts this one certificate and nothing else, and nobody can make it vouch for another.
"""

from __future__ import annotations

import hashlib
import shutil
import ssl
import subprocess
import tempfile
import time
from contextlib import suppress
from dataclasses import dataclass
from ipaddress import ip_address
from pathlib import Path

from sparkwright.errors import Refusal
from sparkwright.web.settings import LOOPBACK

AUTHORITY, CERTIFICATE, KEY = "authority.crt", "certificate.pem", "key.pem"
"""Files of a certificate of our own: for the phones, for the workbench, and for nobody else."""
DAYS = 820
"""iOS trusts none that lasts over 825 days, whoever made it ("Requirements for trusted certificates in
iOS 13", recalled)."""
RENEWED_BEFORE_S = 14 * 24 * 3600.0
"""So long before it ends one of our own is made anew; a choice."""
MADE_WITHIN_S = 60
CIPHERS = "ECDHE+AESGCM:ECDHE+CHACHA20"
"""For TLS 1.2: those with forward secrecy and authenticated encryption (RFC 9325, section 4.2)."""

AUTHORITY_SETTINGS = """\
[req]
prompt = no
distinguished_name = who
x509_extensions = authority
[who]
CN = Sparkwright workbench of {name}
[authority]
basicConstraints = critical, CA:TRUE, pathlen:0
keyUsage = critical, keyCertSign
subjectKeyIdentifier = hash
"""
CERTIFICATE_SETTINGS = """\
[req]
prompt = no
distinguished_name = who
[who]
CN = {name}
[served]
basicConstraints = critical, CA:FALSE
keyUsage = critical, digitalSignature
extendedKeyUsage = serverAuth
subjectKeyIdentifier = hash
authorityKeyIdentifier = keyid
subjectAltName = {names}
"""


@dataclass(frozen=True)
class Certificate:
    """The files under which a workbench is served encrypted.

    Parameters
    ----------
    certificate : Path
        The certificate, and what lies between it and an authority.
    key : Path
        Its private key.
    authority : Path, optional
        The authority that a phone has to trust first; None where the certificate was given.
    """

    certificate: Path
    key: Path
    authority: Path | None = None


def given(certificate: Path, key: Path) -> Certificate:
    """Take a certificate and its key from files.

    Parameters
    ----------
    certificate : Path
        File of the certificate, in PEM.
    key : Path
        File of its key, in PEM.

    Raises
    ------
    Refusal
        If one can't be read, or they don't belong together.
    """
    for option, path in (("--certificate", certificate), ("--key", key)):
        if not path.is_file():
            raise Refusal.at(option, f'"{path}"', "must be a file that is there", "name a PEM file")
    try:
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(certificate, key, password=_no_passphrase)
    except Refusal:
        raise
    except (OSError, ValueError) as problem:
        must = "must be a certificate and its own key, both as PEM"
        why = getattr(problem, "reason", None) or getattr(problem, "strerror", None) or "not PEM"
        told = str(why).replace("_", " ").lower()
        raise Refusal.at("--certificate", f'"{certificate}" with "{key}"', f"{must} ({told})") from problem
    return Certificate(certificate, key)


def _no_passphrase() -> bytes:
    must = "must have no pass-phrase, as nobody is there to type it when the workbench starts"
    raise Refusal.at("--key", "encrypted", must, "keep it readable for yourself alone instead")


def own(folder: Path, names: tuple[str, ...]) -> Certificate:
    """Give a certificate of our own for some names: the one in a folder where it still serves, or a new one.

    Parameters
    ----------
    folder : Path
        Where our certificates are kept.
    names : tuple of str
        Names and addresses that it must hold under.

    Raises
    ------
    Refusal
        If the machine has no `openssl`, or the folder can't be written.
    """
    made = Certificate(folder / CERTIFICATE, folder / KEY, folder / AUTHORITY)
    if not serves(made, names):
        try:
            folder.mkdir(parents=True, exist_ok=True)
            folder.chmod(0o700)
            _make(folder, names)
        except OSError as problem:
            must = f"must be a folder that can be written ({(problem.strerror or 'refused').lower()})"
            raise Refusal.at("--make-certificate", f'"{folder}"', must) from problem
    return made


def serves(made: Certificate, names: tuple[str, ...], now_s: float | None = None) -> bool:
    """Whether a certificate of our own holds under all names, for two weeks at least.

    Asked as a browser asks: by a handshake, here in memory, with trust in the authority alone.

    Parameters
    ----------
    made : Certificate
        A certificate of our own.
    names : tuple of str
        Names and addresses that it must hold under.
    now_s : float, optional
        The moment that counts [s since 1970]; None for the present one.
    """
    now_s = time.time() if now_s is None else now_s
    try:
        server = context_of(made)
        client = ssl.create_default_context(cafile=made.authority)
        ends = str(client.get_ca_certs()[0]["notAfter"])
    except (OSError, ValueError, IndexError):
        return False
    lasts = now_s + RENEWED_BEFORE_S < ssl.cert_time_to_seconds(ends)
    return lasts and all(_shake_hands(server, client, name) for name in names)


def _shake_hands(server: ssl.SSLContext, client: ssl.SSLContext, name: str) -> bool:
    to_server, to_client = ssl.MemoryBIO(), ssl.MemoryBIO()
    asking = client.wrap_bio(to_client, to_server, server_hostname=name)
    answering = server.wrap_bio(to_server, to_client, server_side=True)
    for _ in range(2):
        try:
            with suppress(ssl.SSLWantReadError):
                asking.do_handshake()
                return True
            with suppress(ssl.SSLWantReadError):
                answering.do_handshake()
        except (ssl.SSLError, ValueError):
            return False
    return False


def context_of(certificate: Certificate) -> ssl.SSLContext:
    """Give what speaks TLS under a certificate: 1.2 or newer, as Python has it.

    Parameters
    ----------
    certificate : Certificate
        The certificate with its key.
    """
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.set_ciphers(CIPHERS)
    context.load_cert_chain(certificate.certificate, certificate.key)
    return context


def fingerprint(certificate: Path) -> str:
    """Write the SHA-256 of a certificate as phones show it.

    Parameters
    ----------
    certificate : Path
        File of the certificate, in PEM.
    """
    found = hashlib.sha256(ssl.PEM_cert_to_DER_cert(certificate.read_text(encoding="ascii"))).hexdigest()
    return " ".join(found[i : i + 2].upper() for i in range(0, len(found), 2))


def _make(folder: Path, names: tuple[str, ...]) -> None:
    program = shutil.which("openssl")
    if program is None:
        raise Refusal.at(
            "--make-certificate",
            f'"{folder}"',
            "needs the program openssl, which this machine doesn't have",
            "install it, or give a certificate with --certificate and --key",
        )
    name = next((each for each in names if each not in LOOPBACK), names[0])
    listed = ", ".join(dict.fromkeys(f"{'IP' if _is_address(each) else 'DNS'}:{each}" for each in names))
    # Made aside, on the same disk, and put in place whole; the authority's key is gone with the rest.
    with tempfile.TemporaryDirectory(dir=folder, prefix="making-") as aside:
        work = Path(aside)
        (work / "authority.cnf").write_text(AUTHORITY_SETTINGS.format(name=name), encoding="ascii")
        settings = CERTIFICATE_SETTINGS.format(name=name, names=listed)
        (work / "certificate.cnf").write_text(settings, encoding="ascii")
        for step in (
            f"ecparam -genkey -name prime256v1 -noout -out {KEY}",
            "ecparam -genkey -name prime256v1 -noout -out thrown-away.pem",
            f"req -new -x509 -sha256 -days {DAYS} -config authority.cnf -key thrown-away.pem"
            f" -out {AUTHORITY}",
            f"req -new -sha256 -config certificate.cnf -key {KEY} -out request.pem",
            f"x509 -req -sha256 -days {DAYS} -in request.pem -CA {AUTHORITY} -CAkey thrown-away.pem"
            f" -set_serial {time.time_ns()} -extfile certificate.cnf -extensions served -out {CERTIFICATE}",
        ):
            _run(program, step, work)
        (work / KEY).chmod(0o600)
        for made in (KEY, CERTIFICATE, AUTHORITY):
            (work / made).replace(folder / made)


def _run(program: str, step: str, work: Path) -> None:
    done = subprocess.run(
        [program, *step.split()], cwd=work, capture_output=True, text=True, timeout=MADE_WITHIN_S
    )
    if done.returncode:
        said = (done.stderr.strip().splitlines() or ["nothing"])[-1][:200]
        raise Refusal.at(
            "--make-certificate",
            f"openssl {step.split()[0]}",
            f"must succeed, and this machine's says: {said}",
            "give a certificate with --certificate and --key",
        )


def _is_address(name: str) -> bool:
    try:
        ip_address(name)
    except ValueError:
        return False
    return True
