"""Puts a finished sheet into a folder: both files whole, or an error and neither half."""

from __future__ import annotations

import errno
import os
import re
import tempfile
import unicodedata
from pathlib import Path

from bibula.forecast.result import Forecast
from bibula.quantities.errors import InputError, Place
from bibula.report.engine import render_pdf
from bibula.report.page import render_page


def write_sheet(
    forecast: Forecast, folder: str | Path, units: str = "metric", log_page: bool = False
) -> tuple[Path, Path]:
    """Writes the bench sheet as HTML and PDF.

    Both are made in memory first, written under other names and then renamed, so that a file is never half there.

    Args:
        forecast: what to print.
        folder: made if it is not there.
        units: "metric" or "inch".
        log_page: a whole page of log more in the PDF.

    Returns:
        The paths of the HTML page and of the PDF.

    Raises:
        InputError: unknown units, a sign the fonts lack, a full disk, or a folder that cannot be written.
    """
    html, pdf = render_page(forecast, units).encode("utf-8"), render_pdf(forecast, units, log_page)
    stem = file_stem(forecast.object_name)
    target = Path(folder)
    paths = write_whole({target / f"{stem}.html": html, target / f"{stem}.pdf": pdf})
    return paths[0], paths[1]


def file_stem(name: str) -> str:
    """A file name any system takes: lower-case letters, digits and hyphens, at most 60 of them."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    words = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:60].strip("-")
    return f"bench-sheet-{words}" if words else "bench-sheet"


def write_whole(contents: dict[Path, bytes]) -> tuple[Path, ...]:
    """Writes files so that each is there whole or not at all; all are on the disk before the first is renamed.

    Raises:
        InputError: the folder cannot be made or written, or the disk is full.
    """
    waiting: dict[Path, Path] = {}
    try:
        for path, data in contents.items():
            path.parent.mkdir(parents=True, exist_ok=True)
            handle, name = tempfile.mkstemp(prefix=".bibula-", dir=path.parent)
            waiting[path] = Path(name)
            with os.fdopen(handle, "wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
        for path, temporary in waiting.items():
            temporary.chmod(0o644)
            temporary.replace(path)
    except OSError as error:
        folder = str(next(iter(contents)).parent)
        raise InputError(*_plain(error), Place(file=folder)) from error
    finally:
        for temporary in waiting.values():
            temporary.unlink(missing_ok=True)
    return tuple(contents)


def _plain(error: OSError) -> tuple[str, str]:
    """What went wrong and how to mend it, without the system's jargon."""
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return "the disk is full, so the sheet was not written", "free some space or choose another folder"
    if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return "this folder may not be written to", "choose another folder"
    if error.errno in (errno.ENOTDIR, errno.EEXIST):
        return "this is a file, not a folder", "choose a folder"
    return f"the sheet could not be written here ({error.strerror or error})", "choose another folder"
