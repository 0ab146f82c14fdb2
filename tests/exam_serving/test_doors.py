"""A served exam behind other doors: https by a certificate, and JupyterHub's proxy."""

from __future__ import annotations

import os
import re
import ssl
import sys
from datetime import UTC, datetime, timedelta
from ipaddress import ip_address

import pytest
import requests
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from squatlab.exam.records import Records, hand_ins
from tests import class_server
from tests.browser.lab import free_port

from .rooms import CERTIFIER, Candidate, Certifier, Program, opened, pack

HUB_PREFIX = "/services/exam/"


@pytest.fixture(scope="module")
def packed(tmp_path_factory):
    return pack(tmp_path_factory.mktemp("form"))


@pytest.fixture
def where(tmp_path):
    return tmp_path / "records.sqlite"


@pytest.fixture
def slips(where, packed):
    records = Records(where, CERTIFIER)
    found = opened(records, packed, ("R01",))
    records.close()
    return found


@pytest.fixture
def certificate(tmp_path):
    """A self-signed certificate of 127.0.0.1 and its private key, as PEM files."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "exam room")])
    now = datetime.now(UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + timedelta(days=1))
        .add_extension(
            x509.SubjectAlternativeName([x509.IPAddress(ip_address("127.0.0.1"))]), False
        )
        .sign(key, hashes.SHA256())
    )
    chain, private = tmp_path / "room.pem", tmp_path / "room.key"
    chain.write_bytes(made.public_bytes(serialization.Encoding.PEM))
    private.write_bytes(
        key.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        )
    )
    return chain, private


def test_an_exam_is_sat_by_https_alone(packed, where, slips, certificate):
    chain, private = certificate
    program = Program(
        packed.package, packed.key_file, where, "--certificate", chain, "--private-key", private
    )
    try:
        believed = ssl.create_default_context(cafile=chain)
        one = Candidate(program.port, tls=believed)
        assert one.enter("R01", slips["R01"].code) == 200
        assert "; secure" in one.headers["set-cookie"].lower()
        assert one.headers["strict-transport-security"] == "max-age=86400"
        assert one.ask("begin")[1]["done"]
        assert one.ask("answer", item="q04", answer="no option")[1]["done"] is False
        assert one.ask("hand in")[1]["done"]
        stranger = Candidate(program.port, tls=ssl.create_default_context())
        with pytest.raises(ssl.SSLCertVerificationError):
            stranger.enter("R01", slips["R01"].code)
        plain = Candidate(program.port)
        with pytest.raises((ConnectionError, OSError)):
            plain.request("GET", "")
        assert Certifier(program.port, tls=believed).come(program.desk_key) == 302
    finally:
        told = program.end()
    assert "WARNING" not in told
    records = Records(where, CERTIFIER)
    assert [one.candidate for one in hand_ins(records, "spring")] == ["R01"]
    assert records.verify() == ()
    records.close()


def test_an_exam_is_a_service_of_a_class_server(packed, where, slips, tmp_path):
    """The hub starts it and its proxy leads there: no account needed, the code is the key."""
    if class_server.MISSING:
        missing = pytest.fail if os.environ.get("SQUATLAB_REQUIRE_HUB") else pytest.skip
        missing(f"no class server: {class_server.MISSING}")
    port = free_port()
    serving = ["serve-exam", packed.package, packed.key_file, "--records", where]
    command = [sys.executable, "-m", "squatlab", *map(str, serving), "--by", CERTIFIER]
    command += ["--port", str(port)]
    service = {"name": "exam", "url": f"http://127.0.0.1:{port}", "command": command}
    more = f"\nc.JupyterHub.services = [{service!r}]\n"
    with class_server.running(tmp_path, [], "", more) as address:
        hub_port = int(address.rpartition(":")[2])
        class_server._until(lambda: requests.get(f"{address}{HUB_PREFIX}", timeout=9).ok)
        one = Candidate(hub_port, HUB_PREFIX)
        assert one.enter("R01", slips["R01"].code) == 200
        assert f"path={HUB_PREFIX}" in one.headers["set-cookie"].lower()
        status, page = one.ask("page")
        assert status == 200 and page["page"]["title"] == "Before you begin"
        assert one.ask("begin")[1]["done"] and one.ask("question", item="q01")[0] == 200
        assert one.lift("q01")[0] == 200
        foreign = {"Origin": "http://elsewhere.example"}
        assert one.request("POST", "ask", {"do": "page"}, foreign)[0] == 403
        log = (tmp_path / "hub.log").read_text(encoding="utf-8")
        key = re.search(r"desk\?key=(\S+)", log)[1]
        certifier = Certifier(hub_port, HUB_PREFIX)
        assert certifier.come(key) == 302
        (row,) = certifier.do("state")["overview"]["rows"]
        assert (row["candidate"], row["state"]) == ("R01", "sitting")
        assert one.ask("hand in")[1]["done"]
    records = Records(where, CERTIFIER)
    assert [one.mode for one in hand_ins(records, "spring")] == ["served"]
    assert records.verify() == ()
    records.close()
