"""Served encrypted: under a certificate that was given, or one of its own that phones can trust."""

from __future__ import annotations

import http.client
import os
import re
import ssl
import stat
import subprocess
import sys
import time
from pathlib import Path

import pytest

from processes import end_whole
from sparkwright.errors import Refusal
from sparkwright.web import certificate as certificates
from sparkwright.web.certificate import AUTHORITY, CERTIFICATE, DAYS, KEY, Certificate, own, serves
from sparkwright.web.serve import certificate_for
from sparkwright.web.settings import Settings
from workbench import workbench

pytestmark = pytest.mark.security

NAMES = ("127.0.0.1", "localhost", "::1", "bench.example", "192.0.2.7")
"""Addresses of TEST-NET-1, which no machine has (RFC 5737), and of this machine."""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Certificate:
    return own(tmp_path_factory.mktemp("certificate") / "made", NAMES)


def told_by_openssl(*words: str | Path) -> str:
    return subprocess.run(["openssl", *words], check=True, capture_output=True, text=True).stdout


def test_another_program_finds_the_certificate_in_order(made: Certificate) -> None:
    """Held against OpenSSL's own check of the chain, for the purpose of a server and under each name."""
    assert made.authority is not None
    for option, names in (("-verify_hostname", NAMES[3:4]), ("-verify_ip", (NAMES[0], *NAMES[4:]))):
        for name in names:
            checked = ("verify", "-x509_strict", "-purpose", "sslserver", option, name)
            assert "OK" in told_by_openssl(*checked, "-CAfile", made.authority, made.certificate)
    text = told_by_openssl("x509", "-in", made.certificate, "-noout", "-text")
    assert "TLS Web Server Authentication" in text
    assert "id-ecPublicKey" in text
    ends = ssl.cert_time_to_seconds(re.findall(r"Not After : (.*)", text)[0])
    assert ends - time.time() <= 825 * 24 * 3600


def test_nobody_can_have_the_authority_vouch_for_another_certificate(made: Certificate) -> None:
    """Its key is nowhere: no file of the folder signs with it, and no certificate below it may sign."""
    folder = made.certificate.parent
    assert sorted(each.name for each in folder.iterdir()) == sorted([AUTHORITY, CERTIFICATE, KEY])
    assert made.authority is not None
    public = told_by_openssl("x509", "-in", made.authority, "-noout", "-pubkey")
    assert public != told_by_openssl("pkey", "-in", made.key, "-pubout")
    assert "CA:FALSE" in told_by_openssl("x509", "-in", made.certificate, "-noout", "-text")
    assert "pathlen:0" in told_by_openssl("x509", "-in", made.authority, "-noout", "-text")


def test_the_key_is_for_its_user_alone(made: Certificate) -> None:
    assert stat.S_IMODE(made.key.stat().st_mode) == 0o600
    assert stat.S_IMODE(made.key.parent.stat().st_mode) == 0o700


def test_phones_trust_on_until_the_certificate_no_longer_serves(made: Certificate) -> None:
    before = made.certificate.read_bytes()
    assert own(made.certificate.parent, NAMES[:2]) == made
    assert made.certificate.read_bytes() == before
    assert serves(made, NAMES)
    assert not serves(made, ("another.example",))
    day_s = 24 * 3600.0
    assert serves(made, NAMES, time.time() + (DAYS - 15) * day_s)
    assert not serves(made, NAMES, time.time() + (DAYS - 13) * day_s)


def test_a_further_name_has_it_made_anew(tmp_path: Path) -> None:
    first = own(tmp_path / "made", ("localhost",))
    before = first.certificate.read_bytes()
    own(tmp_path / "made", ("localhost", "bench.example"))
    assert first.certificate.read_bytes() != before
    assert serves(first, ("bench.example", "localhost"))


def refusal(folder: Path, certificate: Path | None, key: Path | None, made_in: Path | None = None) -> str:
    with pytest.raises(Refusal) as told:
        certificate_for(Settings(), certificate, key, made_in)
    return str(told.value).replace(str(folder), "here")


def test_what_cannot_be_served_under_is_said(made: Certificate, tmp_path: Path) -> None:
    nothing, text = tmp_path / "none.pem", tmp_path / "text.pem"
    text.write_text("no certificate")
    assert refusal(tmp_path, made.certificate, None) == (
        "--key (not given): must be named together with the other; they are two PEM files"
    )
    assert refusal(tmp_path, nothing, made.key) == (
        '--certificate = "here/none.pem": must be a file that is there; name a PEM file'
    )
    assert "must be a certificate and its own key, both as PEM" in refusal(tmp_path, text, made.key)
    assert "must stand alone" in refusal(tmp_path, made.certificate, made.key, tmp_path)
    other = own(tmp_path / "other", ("localhost",))
    assert "must be a certificate and its own key" in refusal(tmp_path, made.certificate, other.key)


def test_a_key_that_asks_for_a_pass_phrase_is_refused_and_nothing_waits(
    made: Certificate, tmp_path: Path
) -> None:
    locked = tmp_path / "locked.pem"
    told_by_openssl("pkey", "-in", made.key, "-aes256", "-passout", "pass:four brass words", "-out", locked)
    assert refusal(tmp_path, made.certificate, locked).startswith(
        "--key = encrypted: must have no pass-phrase"
    )


def test_a_machine_without_openssl_is_told_what_to_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    assert refusal(tmp_path, None, None, tmp_path / "made") == (
        '--make-certificate = "here/made": needs the program openssl, which this machine doesn\'t have; '
        "install it, or give a certificate with --certificate and --key"
    )


def test_a_folder_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("here")
    assert refusal(tmp_path, None, None, tmp_path / "file" / "made").startswith(
        '--make-certificate = "here/file/made": must be a folder that can be written'
    )


def test_it_is_served_encrypted_and_says_where_and_what_to_trust(tmp_path: Path) -> None:
    made = tmp_path / "made"
    place = ("--shop", tmp_path / "shop", "--port", "0", "--no-browser", "--make-certificate", made)
    process = subprocess.Popen(
        [sys.executable, "-m", "sparkwright.cli", "serve", *place],
        stdout=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONUNBUFFERED": "1"},
        process_group=0,
    )
    assert process.stdout is not None
    try:
        said = [process.stdout.readline() for _ in range(4)]
        port = int(re.findall(r"https://127\.0\.0\.1:(\d+)/$", said[0].strip())[0])
        whole = f"Type it with https:// in full: at http://127.0.0.1:{port}/ nothing answers.\n"
        assert said.pop(1) == whole
        assert f"{made / AUTHORITY}, also at https://127.0.0.1:{port}/authority.crt" in said[1]
        assert certificates.fingerprint(made / AUTHORITY) in said[2]
        trusting = ssl.create_default_context(cafile=made / AUTHORITY)
        connection = http.client.HTTPSConnection("127.0.0.1", port, context=trusting, timeout=60)
        connection.request("GET", "/")
        answer = connection.getresponse()
        assert answer.status == 200
        assert "manifest-src 'self'" in str(answer.headers["content-security-policy"])
        connection.close()
    finally:
        end_whole(process)


def test_only_the_authority_can_be_had_before_signing_in(made: Certificate, tmp_path: Path) -> None:
    settings = Settings(hosts=("testserver",), shared=True, authority=made.authority)
    with workbench(tmp_path, settings) as (client, _):
        assert made.authority is not None
        assert client.get("/authority.crt").content == made.authority.read_bytes()
        assert client.get("/", follow_redirects=False).headers["location"].startswith("/sign-in")
    with workbench(tmp_path / "plain") as (client, _):
        assert client.get("/authority.crt").status_code == 404


def test_the_fingerprint_is_the_one_that_other_programs_show(made: Certificate) -> None:
    told = told_by_openssl("x509", "-in", made.certificate, "-noout", "-fingerprint", "-sha256")
    assert certificates.fingerprint(made.certificate) == told.strip().partition("=")[2].replace(":", " ")


def test_nothing_that_was_half_made_is_left(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    broken = tmp_path / "programs" / "openssl"
    broken.parent.mkdir()
    broken.write_text("#!/bin/sh\necho 'no such curve here' >&2\nexit 1\n")
    broken.chmod(0o755)
    monkeypatch.setenv("PATH", f"{broken.parent}{os.pathsep}{os.environ['PATH']}")
    said = refusal(tmp_path, None, None, tmp_path / "made")
    assert "must succeed, and this machine's says: no such curve here" in said
    assert list((tmp_path / "made").iterdir()) == []
