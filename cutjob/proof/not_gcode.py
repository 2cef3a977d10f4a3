"""Whether a file can be a G-code program at all: from its bytes and how far they could be read to a reason why not."""

from __future__ import annotations

from cutjob.proof.reading import Reading

_LONGEST_SHOWN = 30
_MANY = 50
# How files of other kinds begin.
_KINDS: tuple[tuple[bytes, str], ...] = (
    (b"\x89PNG", "a picture (PNG)"),
    (b"\xff\xd8\xff", "a picture (JPEG)"),
    (b"GIF8", "a picture (GIF)"),
    (b"BM", "a picture (BMP)"),
    (b"%PDF", "a PDF document"),
    (b"PK\x03\x04", "a ZIP archive"),
    (b"\x1f\x8b", "a compressed file (gzip)"),
    (b"\x7fELF", "a program for a computer"),
    (b"MZ", "a program for a computer"),
)


def kind_of_bytes(data: bytes) -> str:
    """Return what the bytes are where they can't be a program whatever follows, or "" where they may be one."""
    if not data.strip():
        return "the file is empty"
    if data.startswith((b"\xff\xfe", b"\xfe\xff")) or _every_other_is_nothing(data[:512]):
        return "this is text in UTF-16, which no controller reads; save it as plain ASCII"
    kind = _kind(data)
    return f"this is {kind}, no G-code program" if kind else ""


def why_no_program(data: bytes, reading: Reading) -> str:
    """Return why the bytes can't be a program, as far as they were read, or "" where they may be one.

    A file of which more lines can't be split into words than can is none; one with a few faulty lines is a program
    with mistakes.
    """
    if reading.understood:
        return "" if reading.understood >= reading.strange else _strange_lines(data, reading)
    return _strange_lines(data, reading) if reading.strange else "the file has nothing but comments"


def _kind(data: bytes) -> str:
    for begin, kind in _KINDS:
        # Two letters alone may begin a line of words as well.
        if data.startswith(begin) and (len(begin) > 2 or b"\0" in data[:512]):
            return kind
    if b"\0" in data[:4096]:
        return "a file of bytes that are no text"
    begin = data[:4096].removeprefix(b"\xef\xbb\xbf").lstrip()
    if begin.startswith(b"<"):
        return "a page or a drawing (XML, SVG or HTML)"
    if begin.startswith((b"{", b'["')):
        return "data (JSON)"
    words = begin.split()
    if len(words) > 1 and words[0] in (b"0", b"999") and b"SECTION" in words:
        return "a drawing (DXF)"
    return ""


def _every_other_is_nothing(data: bytes) -> bool:
    return len(data) >= 4 and any(set(data[half::2]) == {0} for half in (0, 1))


def _strange_lines(data: bytes, reading: Reading) -> str:
    lines = [problem.location.line for problem in reading.problems if problem.location is not None]
    first = next((line for line in lines if line is not None), 1)
    text = data.decode("latin-1").split("\n")[first - 1].strip()
    shown = text if len(text) <= _LONGEST_SHOWN else f"{text[:_LONGEST_SHOWN]}..."
    others = reading.strange - 1
    more = f", and {others} more" if 0 < others < _MANY else ", and many more" if others else ""
    return f"this is no G-code program: line {first} ({ascii(shown)[1:-1]}){more} can't be split into words"
