"""Lines of an opening as the G-code file has them."""


def as_told(lines, unit="mm"):
    return [f"{line.name}: {line.words(unit)}" if line.label else line.words(unit) for line in lines]
