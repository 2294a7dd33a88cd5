"""Zip archives as they come from outside: every member is looked at before any is unpacked."""

from __future__ import annotations

import io
import re
import stat
import struct
import zipfile
import zlib
from pathlib import PurePosixPath

from sites.ground.errors import GroundError
from sites.ground.found import MOST_BYTES

MOST_MEMBERS = 100
MOST_RATIO = 200
"""A map file packs to a tenth or a fiftieth, not to less than a two-hundredth."""
RATIO_FROM_BYTES = 100_000
"""Smaller members do no harm however well they pack."""
BROKEN = (
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
    EOFError,
    OSError,
    NotImplementedError,
    RuntimeError,
    ValueError,
    IndexError,
)
"""What the library raises for an archive that is not as it should be."""
AGAIN = "Pack it again with an ordinary zip."


def unpack(data: bytes, wanted: frozenset[str]) -> dict[str, bytes]:
    """Members by name whose ending (`.shp`) is wanted. Raises GroundError for a doubtful archive."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            members = [member for member in archive.infolist() if not member.is_dir()]
            _check(members)
            return {
                member.filename: _read(archive, member)
                for member in members
                if PurePosixPath(member.filename).suffix.lower() in wanted and not _hidden(member.filename)
            }
    except GroundError:
        raise
    except BROKEN:
        raise GroundError(f"The zip archive is damaged or cut off. {AGAIN}") from None


def _hidden(name: str) -> bool:
    return any(part.startswith((".", "__MACOSX")) for part in PurePosixPath(name).parts)


def _check(members: list[zipfile.ZipInfo]) -> None:
    if len(members) > MOST_MEMBERS:
        raise GroundError(f"The zip archive holds more than {MOST_MEMBERS} files. Pack only the field's.")
    if len({member.filename.lower() for member in members}) < len(members):
        raise GroundError(f"The zip archive holds one name twice. {AGAIN}")
    if sum(member.file_size for member in members) > 2 * MOST_BYTES:
        raise GroundError("The zip archive unpacks to more than 20 MB. Pack only the field's outline.")
    for member in members:
        name = member.filename
        shown = re.sub(r"[^\x20-\x7e]", "?", name)[:60]
        if name.startswith("/") or "\\" in name or ":" in name or ".." in PurePosixPath(name).parts:
            raise GroundError(f"Its name leads out of the zip archive. {AGAIN}", shown)
        if stat.S_ISLNK(member.external_attr >> 16):
            raise GroundError(f"It is a link, not a file. {AGAIN}", shown)
        if member.flag_bits & 1:
            raise GroundError("The zip archive is locked with a password. Pack it again without one.")
        if PurePosixPath(name).suffix.lower() in {".zip", ".kmz", ".7z", ".gz", ".rar"}:
            raise GroundError("It is an archive inside the archive. Unpack it and bring it in itself.", shown)
        if member.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise GroundError(f"It is packed in a way that is not read here. {AGAIN}", shown)
        if member.file_size > max(RATIO_FROM_BYTES, MOST_RATIO * member.compress_size):
            raise GroundError(f"It unpacks to far more than a map would. {AGAIN}", shown)


def _read(archive: zipfile.ZipFile, member: zipfile.ZipInfo) -> bytes:
    """No more than is allowed, whatever the archive says of its size."""
    with archive.open(member) as file:
        data = file.read(MOST_BYTES + 1)
    if len(data) > MOST_BYTES:
        raise GroundError("A file in it unpacks to more than 10 MB. Pack only the field's outline.")
    return data
