"""Archives: a zip of training files, or one file packed with gzip, taken apart within bounds.

Names are labels and nothing is written to disk, so a name that climbs out of its folder does no harm.
An archive inside an archive stays packed: the reader then refuses it by itself, and the other files
of the archive are not held up by it. One file packed with gzip inside a zip is unpacked, as whole logs
are often exported so.
"""

from __future__ import annotations

import zipfile
import zlib
from io import BytesIO
from typing import NamedTuple

from trainlog.readers.errors import UnreadableFile

MOST_MEMBERS = 1000
"""Files of one archive."""

LARGEST_UNPACKED = 128 * 2**20
"""Bytes of all files of one archive together."""

LARGEST_RATIO = 200
"""Times that a file of more than 1 MB may be larger than it is packed; text of a recording stays below 30."""

_ZIP, _EMPTY_ZIP, _GZIP = b"PK\x03\x04", b"PK\x05\x06", b"\x1f\x8b"
_OTHERS = (b"BZh", b"\xfd7zXZ", b"7z\xbc\xaf", b"\x28\xb5\x2f\xfd", b"Rar!")
_DIRECTORY_ENTRY = b"PK\x01\x02"
_RATIO_COUNTS_FROM = 2**20
_CHUNK = 2**20
_MOST_GZIP_MEMBERS = 100
_ENCRYPTED = 0x1
_UNPACK_YOURSELF = "Unpack it and import the files inside."


class Packed(NamedTuple):
    """One file of an archive."""

    name: str
    data: bytes


def is_packed(data: bytes) -> bool:
    """Whether bytes are an archive or a packed file of any usual kind."""
    return data.startswith((_ZIP, _EMPTY_ZIP, _GZIP, *_OTHERS)) or data[257:262] == b"ustar"


def unpack(data: bytes, name: str = "") -> list[Packed]:
    """Files inside an archive; a file that is none stands for itself.

    Parameters
    ----------
    data : bytes
        A zip, a file packed with gzip, or any other file.
    name : str
        Name of the file; a label only.

    Returns
    -------
    list of Packed
        At least one, each to be read by itself; names hold no folders.

    Raises
    ------
    UnreadableFile
        If the archive is damaged, encrypted, empty, of a rare kind, or unpacks to more than a log can be.
    """
    if data.startswith((_ZIP, _EMPTY_ZIP)):
        return _unzip(data)
    if data.startswith(_GZIP):
        return [Packed(_label(name.removesuffix(".gz")), _gunzip(data, LARGEST_UNPACKED))]
    return [Packed(_label(name), data)]


def _unzip(data: bytes) -> list[Packed]:
    if data.count(_DIRECTORY_ENTRY) > MOST_MEMBERS:
        raise UnreadableFile(
            f"The archive holds more than {MOST_MEMBERS:,} files",
            remedy="Split it into smaller archives.",
        )
    files: list[Packed] = []
    left = LARGEST_UNPACKED
    try:
        with zipfile.ZipFile(BytesIO(data)) as archive:
            for info in archive.infolist():
                if info.is_dir() or _is_clutter(info.filename):
                    continue
                content = _member(archive, info, left)
                left -= len(content)
                label = _label(info.filename)
                if content.startswith(_GZIP):
                    content = _gunzip(content, left)
                    left -= len(content)
                    label = label.removesuffix(".gz")
                files.append(Packed(label, content))
    except UnreadableFile:
        raise
    except Exception as error:  # zipfile leaks many kinds on damage
        raise UnreadableFile(
            "The archive is damaged", remedy="Pack the files again, or import them one by one."
        ) from error
    if not files:
        raise UnreadableFile("The archive holds no files", remedy="Import the training files themselves.")
    return files


def _member(archive: zipfile.ZipFile, info: zipfile.ZipInfo, left: int) -> bytes:
    """Content of one file, read piece by piece so that a false size in the archive does not matter."""
    if info.flag_bits & _ENCRYPTED:
        raise UnreadableFile(
            "The archive is locked with a password", remedy="Pack the files again without one."
        )
    if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise UnreadableFile(
            "The archive is packed by a method that is rare for zip files", remedy=_UNPACK_YOURSELF
        )
    pieces: list[bytes] = []
    size = 0
    with archive.open(info) as file:
        while piece := file.read(_CHUNK):
            size += len(piece)
            _refuse_bomb(size, info.compress_size, left)
            pieces.append(piece)
    return b"".join(pieces)


def _gunzip(data: bytes, left: int) -> bytes:
    pieces: list[bytes] = []
    size, rest, members = 0, data, 0
    try:
        while rest.startswith(_GZIP):
            members += 1
            if members > _MOST_GZIP_MEMBERS:
                raise UnreadableFile(
                    f"More than {_MOST_GZIP_MEMBERS} packed files were joined into one",
                    remedy=_UNPACK_YOURSELF,
                )
            unpacker = zlib.decompressobj(wbits=31)
            while rest and not unpacker.eof:
                piece = unpacker.decompress(rest, _CHUNK)
                rest = unpacker.unconsumed_tail
                size += len(piece)
                _refuse_bomb(size, len(data), left)
                pieces.append(piece)
            if not unpacker.eof:
                raise EOFError
            rest = unpacker.unused_data
    except (zlib.error, EOFError) as error:
        raise UnreadableFile(
            "The packed file is damaged or cut short", remedy="Copy it again, or unpack it and import it."
        ) from error
    return b"".join(pieces)


def _refuse_bomb(size: int, packed: int, left: int) -> None:
    if size > left:
        raise UnreadableFile(
            f"The archive unpacks to more than {LARGEST_UNPACKED // 2**20} MB",
            remedy="Split it into smaller archives.",
        )
    if size > _RATIO_COUNTS_FROM and size > LARGEST_RATIO * packed:
        raise UnreadableFile(
            f"A file of the archive unpacks to more than {LARGEST_RATIO} times its size, "
            "which no recording does",
            remedy=_UNPACK_YOURSELF,
        )


def _is_clutter(name: str) -> bool:
    """Whether a file only describes a folder to some system."""
    parts = name.replace("\\", "/").split("/")
    return "__MACOSX" in parts or parts[-1].startswith("._") or parts[-1] in (".DS_Store", "Thumbs.db")


def _label(name: str) -> str:
    last = name.replace("\\", "/").rstrip("/").rpartition("/")[2]
    return "".join(letter for letter in last if letter.isprintable())[-255:]
