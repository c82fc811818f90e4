"""No file of the repository holds a secret."""

import re
import subprocess
from pathlib import Path

import pytest

PROJECT = Path(__file__).resolve().parents[2]

SECRETS = {
    "a private key": re.compile(rb"-----BEGIN [A-Z ]*PRIVATE KEY-----"),
    "a token of this log": re.compile(rb"\btl_[\w-]{43}\b"),
    "a token with a known beginning": re.compile(
        rb"\b(?:gh[pousr]_[A-Za-z0-9]{36}|github_pat_\w{22,}|glpat-[\w-]{20}|xox[abprs]-[\w-]{10,}"
        rb"|AKIA[0-9A-Z]{16}|AIza[\w-]{35}|sk_live_\w{16,})"
    ),
    "a signed web token": re.compile(rb"\beyJ[\w-]{10,}\.eyJ[\w-]{10,}\.[\w-]{20,}"),
    "a secret key of Django": re.compile(
        rb"django-insecur[e]-|SECRET_KEY\s*=\s*[\"'](?!only-for-)[^\"']{16,}"
    ),
    "a password in an address": re.compile(
        rb"\b(?:postgres(?:ql)?|redis|https?)://[^\s/:@\"'`]*:(?!password@|\$|\{|secret@)[^\s/@\"'`]{3,}@[a-z]"
    ),
}
NEVER = {".env", "secret_key", "id_rsa", "id_ed25519", ".pgpass", ".netrc"}
"""Names of files that hold secrets."""


def tracked():
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=PROJECT, capture_output=True, check=False)
    if listed.returncode != 0:
        pytest.skip("not a clone: git names no files here")
    return [PROJECT / name for name in listed.stdout.decode().split("\0") if name]


def secrets_in(content):
    return [kind for kind, pattern in SECRETS.items() if pattern.search(content)]


def test_no_file_of_the_repository_holds_a_secret():
    found = {
        str(path.relative_to(PROJECT)): kinds
        for path in tracked()
        if path.is_file() and (kinds := secrets_in(path.read_bytes()))
    }
    assert found == {}


def test_no_file_has_the_name_of_one_that_holds_secrets():
    assert [path for path in tracked() if path.name in NEVER or path.suffix in {".pem", ".key", ".p12"}] == []


@pytest.mark.parametrize(
    "written",
    [
        "-----BEGIN " + "RSA PRIVATE KEY-----",
        "tl_" + "a" * 43,
        "gh" + "p_" + "a1" * 18,
        "AK" + "IA" + "A1" * 8,
        "SECRET_KEY" + " = 'zq8f-3hj2k9xw7v5t1p0'",
        "postgres" + "://trainlog:hunter2x@db/trainlog",
    ],
)
def test_a_secret_would_be_found(written):
    assert secrets_in(f"x = {written}\n".encode())


def test_the_data_folder_and_its_key_are_kept_out_of_repository_and_image():
    assert "/var/" in (PROJECT / ".gitignore").read_text().split()
    image = (PROJECT / ".dockerignore").read_text().split()
    assert image[0] == "*"
    assert not {"!var", "!."} & set(image)
