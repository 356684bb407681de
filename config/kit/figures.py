"""How numbers are written for people: one way on pages, in charts and in the drawing."""

from __future__ import annotations

import math

THIN = "\u202f"  # narrow no-break space
MINUS = "\u2212"
_SUPERSCRIPTS = str.maketrans("0123456789-", "⁰¹²³⁴⁵⁶⁷⁸⁹⁻")


def split_power(value: float, digits: int) -> tuple[str, int | None]:
    """Return the digits of a number and its power of ten; no power from 0.01 to 10,000."""
    if value == 0.0:
        return "0", None
    size = abs(value)
    if 0.01 <= size < 10_000.0:
        decimals = max(0, digits - 1 - math.floor(math.log10(size)))
        return f"{value:.{decimals}f}".replace("-", MINUS), None
    mantissa, _, power = f"{value:.{digits - 1}e}".partition("e")
    return mantissa.replace("-", MINUS), int(power)


def write_plain(value: float, digits: int = 3) -> str:
    """Return a number for a place that takes no markup, with a superscript power: 1.17×10⁻³."""
    if not math.isfinite(value):
        return "∞"
    mantissa, power = split_power(value, digits)
    return mantissa if power is None else f"{mantissa}×10{str(power).translate(_SUPERSCRIPTS)}"


def write_tick(value: float) -> str:
    """Return a round number as an axis shows it, without idle zeros: 5×10⁻⁵."""
    mantissa, power = split_power(value, 3)
    if "." in mantissa:
        mantissa = mantissa.rstrip("0").rstrip(".")
    if power is None:
        return mantissa
    raised = f"10{str(power).translate(_SUPERSCRIPTS)}"
    return raised if mantissa == "1" else f"{mantissa}×{raised}"


def group_digits(count: int) -> str:
    """Return a whole number in full, its digits in groups of three: 82 000 000 000."""
    return f"{count:,}".replace(",", THIN).replace("-", MINUS)


def write_share(share: float) -> str:
    """Return a share of one in percent; small ones are not rounded to nothing."""
    percent = share * 100.0
    if percent == 0.0:
        return f"0{THIN}%"
    if abs(percent) < 0.01:
        return f"{write_plain(percent, 2)}{THIN}%"
    decimals = 2 if abs(percent) < 1.0 else 1
    return f"{percent:.{decimals}f}{THIN}%".replace("-", MINUS)


def write_seconds(seconds: float) -> str:
    """Return a length of time at the precision that matters."""
    if seconds < 1.0:
        return f"{max(seconds, 0.0) * 1000:.0f}{THIN}ms"
    if seconds < 60.0:
        return f"{seconds:.1f}{THIN}s"
    return f"{int(seconds) // 60}{THIN}min {int(seconds) % 60}{THIN}s"
