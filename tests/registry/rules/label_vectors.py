"""Texts of labels with what they say, each with its source; GTINs of the prefix 0950600 are invented."""

from datetime import date

TODAY = date(2026, 11, 25)
GS = "\x1d"

# (text, {what it says}, source)
GS1 = [
    (
        "(01)51022222233336(11)141231(17)150707(10)A213B1(21)1234",
        {
            "device_identifier": "51022222233336",
            "made_on": date(2014, 12, 31),
            "expires_on": date(2015, 7, 7),
            "batch": "A213B1",
            "serial": "1234",
        },
        "FDA, formats of the issuing agencies, 2017",
    ),
    (
        f"]d201095060001343521727013110LOT42A{GS}21SN0042",
        {
            "device_identifier": "09506000134352",
            "expires_on": date(2027, 1, 31),
            "batch": "LOT42A",
            "serial": "SN0042",
        },
        "own",
    ),
    (
        "(01)09506000134352(17)280200",
        {"expires_on": date(2028, 2, 29)},
        "GS1: day 00 is the last of the month; own arithmetic",
    ),
    ("(01)09506000134352(17)760131", {"expires_on": date(2076, 1, 31)}, "GS1: 50 years ahead"),
    ("(01)09506000134352(11)770131", {"made_on": date(1977, 1, 31)}, "GS1: 49 years back"),
    ("(01)09506000134352(11)000131", {"made_on": date(2000, 1, 31)}, "GS1; own arithmetic"),
    (
        "{01}09506000134352{17}270131{10}LOT42A",
        {"device_identifier": "09506000134352", "batch": "LOT42A"},
        "FHIR R4, the curly form of its device example; own values",
    ),
    (
        "https://id.gs1.org/01/09506000134352/10/LOT42A/21/SN0042?17=270131",
        {"batch": "LOT42A", "serial": "SN0042", "expires_on": date(2027, 1, 31)},
        "GS1 Digital Link; own values",
    ),
    ("6291041500213", {"device_identifier": "06291041500213"}, "GS1, page of its members"),
    ("]E06291041500213", {"device_identifier": "06291041500213"}, "ISO/IEC 15424, from memory"),
    ("(01)00643169001763", {"device_identifier": "00643169001763"}, "HL7 v2, text of PRT-10"),
    ("(01)00844588003288", {"device_identifier": "00844588003288"}, "FHIR R4, device example"),
    ("(01)10857674002017", {"device_identifier": "10857674002017"}, "FHIR R4, device example"),
    (
        f"]C10109506000134352{GS}10B7",
        {"device_identifier": "09506000134352"},
        "own: a separator where none is needed",
    ),
    (
        f"{GS}0109506000134352240PL-7{GS}304{GS}10B7",
        {"catalogue_number": "PL-7", "quantity": 4, "batch": "B7"},
        "own: FNC1 sent in front",
    ),
    (
        f"[)>\x1e05{GS}010950600013435210B7\x1e\x04",
        {"device_identifier": "09506000134352", "batch": "B7"},
        "ISO/IEC 15434 format 05, from memory; own values",
    ),
]

HIBC = [
    (
        "+A123BJC5D6E71G",
        {"device_identifier": "A123BJC5D6E71", "catalogue_number": "BJC5D6E7"},
        "ANSI/HIBC, appendix B",
    ),
    ("*+A123BJC5D6E71G*", {"device_identifier": "A123BJC5D6E71"}, "ANSI/HIBC: Code 39 in print"),
    ("+A1234BJC5D6E71K", {"device_identifier": "A1234BJC5D6E71"}, "published check character"),
    ("+A999PLATE1230B", {"device_identifier": "A999PLATE1230"}, "own"),
    (
        "+A999PLATE1230/$$3270131LOT42AL",
        {
            "device_identifier": "A999PLATE1230",
            "expires_on": date(2027, 1, 31),
            "batch": "LOT42A",
        },
        "own; rule of ANSI/HIBC: one check character for the joined form",
    ),
    (
        "+H123PARTNO1234567890120/$$420020216LOT123456789012345/SXYZ456789012345678/16D20130202H",
        {
            "device_identifier": "H123PARTNO1234567890120",
            "expires_on": date(2020, 2, 2),
            "batch": "LOT123456789012345",
            "serial": "XYZ456789012345678",
            "made_on": date(2013, 2, 2),
        },
        "FHIR R4 device example with the check character put right",
    ),
    (
        "+H123PARTNO1234567890120/$$420020216LOT123456789012345/SXYZ4567890123 45678/16D20130202C",
        {"serial": "XYZ4567890123 45678"},
        "HL7 v2, which prints a space in the serial number",
    ),
    (
        "+A99912345/$$52001510X33",
        {
            "device_identifier": "A99912345",
            "expires_on": date(2020, 1, 15),
            "batch": "10X3",
        },
        "ANSI/HIBC 2.6, 2.2.1.1",
    ),
    (
        "+A99912345/$$52001510X3/16D20111212/S77DEFG457",
        {"made_on": date(2011, 12, 12), "serial": "77DEFG45", "batch": "10X3"},
        "a published test string for readers of HIBC",
    ),
    (
        "+$$52001510X3GD",
        {"expires_on": date(2020, 1, 15), "batch": "10X3", "link": "G"},
        "ANSI/HIBC 2.6, appendix E1.3",
    ),
]

# A secondary symbol's data before its link and check characters, and what they say: from memory.
HIBC_DATA = [
    ("$LOT1", {"batch": "LOT1", "expires_on": None}),
    ("$+SER1", {"serial": "SER1", "batch": ""}),
    ("$$7LOT1", {"batch": "LOT1", "expires_on": None}),
    ("$$+7SER1", {"serial": "SER1", "expires_on": None}),
    ("$$0928LOT1", {"expires_on": date(2028, 9, 30), "batch": "LOT1"}),
    ("$$1228LOT1", {"expires_on": date(2028, 12, 31), "batch": "LOT1"}),
    ("$$2022928LOT1", {"expires_on": date(2028, 2, 29), "batch": "LOT1"}),
    ("$$3280229LOT1", {"expires_on": date(2028, 2, 29), "batch": "LOT1"}),
    ("$$428022923LOT1", {"expires_on": date(2028, 2, 29), "batch": "LOT1"}),
    ("$$528060LOT1", {"expires_on": date(2028, 2, 29), "batch": "LOT1"}),
    ("$$62806023LOT1", {"expires_on": date(2028, 2, 29), "batch": "LOT1"}),
    ("$$+3280229SER1", {"expires_on": date(2028, 2, 29), "serial": "SER1"}),
    ("$$8043280229LOT1", {"quantity": 4, "expires_on": date(2028, 2, 29), "batch": "LOT1"}),
    ("$$900012" + "7LOT1", {"quantity": 12, "expires_on": None, "batch": "LOT1"}),
    ("28060LOT1", {"expires_on": date(2028, 2, 29), "batch": "LOT1"}),
]

TISSUE = [
    (
        "=/A9999XYZ100T0944=,000025=A99971312345600=>014032=}013032&,1000000000000XYZ123",
        {
            "device_identifier": "A9999XYZ100T0944",
            "serial": "000025",
            "batch": "000000000000XYZ123",
            "expires_on": date(2014, 2, 1),
            "made_on": date(2013, 2, 1),
            "others": (("donation", "A99971312345600"),),
        },
        "FDA, formats of the issuing agencies; day 032 from memory",
    ),
    (
        "=+06000=/A9999XYZ100T0476=,000025=A99972312345600=>025032=}023032&,1000000000000XYZ123",
        {"device_identifier": "A9999XYZ100T0476", "expires_on": date(2025, 2, 1)},
        "ISBT 128, example of a compound message",
    ),
]

# (text, words of the refusal, source)
REFUSED = [
    ("00011954013448", "check digit is 2", "a number used in much public code, which is wrong"),
    ("(01)09506000134353(10)B7", "check digit is 2", "own"),
    ("(01)09506000134352(17)260229", "2026-02-29, a day that does not exist", "own"),
    ("(01)09506000134352(17)271301", "cannot hold '271301'", "own"),
    (
        "+H123PARTNO1234567890120/$$420020216LOT123456789012345/SXYZ456789012345678/16D20130202C",
        "should be 'H'",
        "FHIR R4 device example, whose check character is wrong",
    ),
    ("+A999PLATE1230C", "should be 'B'", "own"),
    ("+A999PLATE1230/$$3260229LOT4", "check character", "own"),
    ("", "Nothing was scanned", "own"),
    ("hello", "no label of an implant", "own"),
    ("https://hospital.example/", "names no article", "own"),
    ("(01)(17)270131", "cannot hold ''", "own: nothing after an identifier"),
    ("(01)09506000134352)x(10)B7", "cannot hold", "own: something outside of any identifier"),
    ("(01)09506000134352(10)A(10)B", "two things for (10)", "own"),
    ("(01)09506000134352(21)" + "7" * 21, "cannot hold", "own: 20 characters at most"),
    (
        f"010950600013435210{'L' * 25}",
        "a separator is missing",
        "own: runs on, and can be split nowhere",
    ),
    ("=/A9999XYZ10", "another form", "own"),
    ("x" * 500, "500 characters", "own"),
]
