"""The few LOINC codes that are known well enough to be sent, and those that are refused.

LOINC is copyright Regenstrief Institute, Inc. and the LOINC Committee, free of charge under the licence
at https://loinc.org/license (the notice is from memory; a service confirms it). Codes, meanings and
statuses were read off a public look-up page of LOINC codes and are to be confirmed in the licensed table. What is
not listed has no code here: it goes out under a code of ours.
"""

from collections.abc import Mapping
from types import MappingProxyType

SYSTEM = "http://loinc.org"
LEFT_ABDUCTION_ACTIVE = "41299-9"
EXTERNAL_ROTATION_ACTIVE = "41387-2"
PAIN = "72514-3"
ACTIVE: Mapping[str, str] = MappingProxyType(
    {
        LEFT_ABDUCTION_ACTIVE: "Shoulder left, abduction, active",
        "41316-1": "Shoulder right, internal rotation, passive",
        EXTERNAL_ROTATION_ACTIVE: "Shoulder, external rotation, active",
        "56044-1": "Shoulder right, horizontal adduction, active",
        "56046-6": "Shoulder, horizontal adduction, passive",
        PAIN: "Pain severity, 0 to 10 verbal numeric rating, reported",
    }
)
REFUSED: Mapping[str, str] = MappingProxyType(
    {
        "41301-3": "it is deprecated",
        "41302-1": "it is deprecated",
        "56840-2": "its use is discouraged; 72514-3 takes its place",
        "38208-5": "its status could not be found",
    }
)


def check_digit(number: str) -> int:
    """Return the digit behind the hyphen of a LOINC number: modulus 10, doubling from the right.

    Raises ValueError for what is not all digits.
    """
    if not (number.isascii() and number.isdigit()):
        raise ValueError(f"'{number}' is not the number of a LOINC code; it is all digits")
    total = 0
    for place, letter in enumerate(reversed(number)):
        digit = int(letter) * (2 if place % 2 == 0 else 1)
        total += digit - 9 if digit > 9 else digit
    return -total % 10


def fault_in(code: str) -> str:
    """Say why a LOINC code is not used here, '' where it is."""
    number, hyphen, digit = code.partition("-")
    try:
        wanted = check_digit(number)
    except ValueError as fault:
        return str(fault)
    if not hyphen or digit != str(wanted):
        return f"LOINC {code} has a wrong check digit; {number} ends in -{wanted}"
    if code in REFUSED:
        return f"LOINC {code} is not used: {REFUSED[code]}"
    if code not in ACTIVE:
        return f"LOINC {code} is not among those that are known here; nothing is guessed"
    return ""


def display_of(code: str) -> str:
    """Return the meaning of a code in use.

    Raises ValueError for one that is deprecated, discouraged, mistyped or not known here.
    """
    fault = fault_in(code)
    if fault:
        raise ValueError(fault)
    return ACTIVE[code]
