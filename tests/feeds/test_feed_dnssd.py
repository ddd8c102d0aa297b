"""Names and attributes for DNS-SD, against the rules of RFC 6335 and RFC 6763 and against zeroconf's own checks."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from zeroconf import BadTypeInNameException, ServiceInfo, service_type_name

from feeds.dnssd import (
    MOST_INSTANCE,
    MOST_RECORD,
    SERVICE,
    TYPE,
    checked_txt,
    instance_name,
    is_instance_name,
    is_service_name,
)

# RFC 6335, section 5.1: 1 to 15 characters, letters, digits and hyphens alone, at least one letter, no hyphen at
# either end, none beside another.
SERVICES = {
    "cornerword": True, "http": True, "A": True, "a1": True, "1a": True, "6to4": True, "a-b-c": True,
    "123456789012345": False, "12345678901234a": True, "abcdefghijklmno": True, "abcdefghijklmnop": False,
    "": False, "1": False, "12-34": False, "-ab": False, "ab-": False, "a--b": False, "a_b": False, "_ab": False,
    "a b": False, "a.b": False, "\N{LATIN SMALL LETTER A WITH DIAERESIS}b": False, "ab\n": False,
    "\N{ARABIC-INDIC DIGIT ONE}a": False,
}  # fmt: skip


@pytest.mark.parametrize(("name", "valid"), SERVICES.items())
def test_service_names_by_rfc_6335(name: str, valid: bool) -> None:
    assert is_service_name(name) is valid


@pytest.mark.parametrize("name", [name for name in SERVICES if name not in ("", "a.b", "ab\n")])
def test_zeroconf_judges_service_names_alike(name: str) -> None:
    # left out: "a.b" is an instance to it, on an empty name it fails, and it takes the end of a line for none
    try:
        service_type_name(f"_{name}._tcp.local.")
        accepted = True
    except BadTypeInNameException:
        accepted = False
    assert accepted is SERVICES[name]


def test_our_own_service_is_one() -> None:
    assert is_service_name(SERVICE)
    assert service_type_name(TYPE) == TYPE


# RFC 6763, section 4.1.1: UTF-8 in Net-Unicode, at most 63 bytes, no ASCII control characters; anything else.
INSTANCES = {
    "PC": True, "Web Server 2.0": True, "a.b": True, " ": True, "x" * 63: True, "x" * 64: False, "": False,
    "\N{RACING CAR}" * 15 + "abc": True, "\N{RACING CAR}" * 16: False,  # 63 and 64 bytes
    "tab\t": False, "nul\0": False, "del\x7f": False, "esc\x1b[2J": False, "\ud800": False,
    "B\N{LATIN SMALL LETTER U WITH DIAERESIS}ro": True, "Bu\N{COMBINING DIAERESIS}ro": False,  # RFC 5198: NFC
}  # fmt: skip


@pytest.mark.parametrize(("name", "valid"), INSTANCES.items())
def test_instance_names_by_rfc_6763(name: str, valid: bool) -> None:
    assert is_instance_name(name) is valid
    if valid:
        assert service_type_name(f"{name}.{TYPE}") == TYPE


@pytest.mark.parametrize(
    ("text", "made"),
    [
        ("PC", "PC"),
        ("  the desk ", "the desk"),
        ("Bu\N{COMBINING DIAERESIS}ro", "B\N{LATIN SMALL LETTER U WITH DIAERESIS}ro"),
        ("a\0b\nc\x7f", "abc"),
        ("", SERVICE),
        ("\n\t", SERVICE),
        ("\ud800", SERVICE),
        ("x" * 80, "x" * 59),
    ],
)
def test_any_text_becomes_a_name(text: str, made: str) -> None:
    assert instance_name(text) == made


@settings(max_examples=50, deadline=None)
@given(st.text(max_size=90))
def test_a_name_made_of_anything_is_one_and_has_room_to_be_renamed(text: str) -> None:
    made = instance_name(text)
    assert is_instance_name(made) and is_instance_name(made + "-999")
    assert unicodedata.is_normalized("NFC", made)
    assert instance_name(made) == made


@pytest.mark.parametrize(
    ("pairs", "why"),
    [
        ({"": "x"}, "is no key"),
        ({"a=b": "x"}, "is no key"),
        ({"tab\t": "x"}, "is no key"),
        ({"\N{LATIN SMALL LETTER A WITH DIAERESIS}": "x"}, "is no key"),
        ({"tencharact": "x"}, "is no key"),  # RFC 6763, section 6.4: no more than nine
        ({"id": "1", "ID": "2"}, "is there twice"),  # section 6.4: without regard to case
        ({"id": "x" * 253}, "has 256 bytes"),  # section 6.1: 255 at most
        ({"id": "\N{RACING CAR}" * 64}, "has 259 bytes"),
        ({"a": "x" * 200, "b": "x" * 200}, f"{MOST_RECORD} at most"),
    ],
)
def test_attributes_out_of_bounds_are_refused(pairs: dict[str, str], why: str) -> None:
    with pytest.raises(ValueError, match=why):
        checked_txt(pairs)


def test_attributes_within_bounds_are_what_zeroconf_sends() -> None:
    pairs = checked_txt({"txtvers": "1", "ninechars": "x" * 245, "empty": ""})
    sent = ServiceInfo(TYPE, f"x.{TYPE}", port=1, properties=pairs).text
    assert sent.startswith(b"\x09txtvers=1")  # section 6.1: a length byte before each; section 6.7: the version first
    assert len(sent) == sum(1 + len(f"{key}={value}") for key, value in pairs.items()) <= MOST_RECORD
    assert MOST_INSTANCE == 63
