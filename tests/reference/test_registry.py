"""The built-in constituents, row by row, and against the open `chemicals` package.

The entries were typed from general knowledge; the package's offline database, made from public records,
catches typing mistakes: by CAS number it must give the same formula and molar mass. It is never asked
who is who: it leads stereoisomers to one record, listed below.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from importlib.resources import files

import pytest

from reaccord.domain.constituent import Constituent
from reaccord.findings import Findings
from reaccord.names.book import NameBook
from reaccord.names.cas import check_digit_ok, looks_like_cas, normalise_cas
from reaccord.names.formula import hill_order, molar_mass
from reaccord.names.key import name_key
from reaccord.names.registry import read_registry
from reaccord.names.response import relative_response

search_chemical = pytest.importorskip("chemicals.identifiers").search_chemical

REGISTRY = read_registry()
BY_NAME = {constituent.name: constituent for constituent in REGISTRY}

# The package has no record of these numbers: rare sesquiterpenes, synthetic aroma chemicals, mixtures,
# fixed oils. The numbers are from memory, their formulas were gone through by hand.
_LACKS = """
    77-54-3 482-25-7 489-41-8 504-96-1 526-37-4 532-65-0 554-61-0 560-32-7 564-20-5 619-62-5 737-52-0 876-17-5
    1134-95-8 1197-07-5 1323-00-8 1330-16-1 1365-19-1 1879-00-1 1901-38-8 1929-30-2 2009-00-9 2153-28-8
    2153-66-4 2349-14-6 2511-00-4 2756-56-1 3293-47-8 3310-02-9 3407-42-9 3650-28-0 3738-00-9 3790-78-1
    3792-53-8 4080-46-0 4819-67-4 4959-35-7 5208-58-2 5258-10-6 5413-60-5 5937-11-1 5956-12-7 5986-49-2
    6040-08-0 6790-58-5 6901-97-9 7299-42-5 7380-40-7 7460-74-4 8001-21-6 8007-69-0 10067-28-4 10408-16-9
    10482-55-0 10482-77-6 11031-45-1 13062-00-5 13341-72-5 13474-59-4 13744-15-5 15051-81-7 15361-99-6
    16223-63-5 16728-99-7 17910-09-7 18252-46-5 18368-95-1 18881-04-4 19870-74-7 19888-33-6 19888-34-7
    19903-73-2 19912-67-5 20085-93-2 20479-06-5 20489-45-6 20777-45-1 21391-99-1 22387-74-2 22419-74-5
    22567-17-5 22629-49-8 23445-02-5 23515-88-0 23726-91-2 23800-56-8 24393-56-4 24703-35-3 25155-15-1
    25485-88-5 25532-78-9 26091-79-2 26127-98-0 26259-79-0 28219-60-5 28624-23-9 28634-89-1 28645-51-4
    28973-97-9 28976-67-2 28976-68-3 29350-73-0 29837-07-8 29873-99-2 30021-46-6 30021-74-0 31035-07-1
    31983-22-9 32388-55-9 33704-61-9 33746-71-3 33746-72-4 34323-15-4 34701-53-6 35087-49-1 35241-40-8
    36262-09-6 36431-72-8 36577-33-0 37609-25-9 37839-63-7 38818-55-2 39212-23-2 41429-52-1 41519-18-0
    41929-05-9 42495-69-2 50277-34-4 51317-08-9 51371-47-2 51414-25-6 51532-26-4 53111-25-4 53585-13-0
    53767-93-4 53833-85-5 54324-03-7 54464-57-2 54464-59-4 54982-83-1 55056-40-1 55066-48-3 56973-85-4
    57074-21-2 57378-68-4 58461-27-1 60066-88-8 61692-78-2 61789-91-1 63500-71-0 65113-99-7 65381-09-1
    66068-84-6 67633-96-9 67634-00-8 67650-90-2 68039-49-6 68141-26-4 68155-66-8 68155-67-9 68832-35-9
    68901-15-5 71048-82-3 72937-55-4 73209-42-4 73365-77-2 73398-61-5 74410-10-9 76231-76-0 81782-77-6
    81944-09-4 82356-51-2 82508-14-3 82508-15-4 88034-74-6 88395-46-4 88728-58-9 90045-98-0 92760-25-3
    103694-68-4 107898-54-4 123123-37-5 123123-38-6 139504-68-0 206978-14-5 1637294-12-2
"""
LACKS = frozenset(_LACKS.split())

# The package leads these numbers to the record of another one: a stereoisomer, a racemate, or the number
# of the unspecified substance. So it can confirm their formula, not who they are.
_MERGES = """
    76-50-6>7779-73-9 77-42-9>37172-32-0 89-78-1>2216-51-5 89-80-5>10458-14-7 99-82-1>6069-98-3
    105-91-9>105-90-8 106-25-2>106-24-1 106-28-5>4602-84-0 117-98-6>62563-80-8 126-91-0>78-70-6
    127-42-4>7779-30-8 141-12-8>105-87-3 141-27-5>5392-40-5 142-50-7>7212-44-4 464-43-7>507-70-0
    464-48-2>76-22-2 464-49-3>76-22-2 465-24-7>11075-64-2 471-15-8>1125-12-8 471-16-9>22555-53-9
    491-01-0>3623-51-6 491-02-1>2216-51-5 491-07-6>10458-14-7 499-74-1>23733-65-5 502-67-0>19317-11-4
    515-13-9>100762-52-5 596-85-0>106631-38-3 621-82-9>140-10-3 928-94-9>928-95-0 999-40-6>106-29-6
    1139-30-6>13877-94-6 1196-01-6>80-57-9 1205-42-1>97-42-7 1335-46-2>7779-30-8 1506-02-1>21145-77-7
    1674-08-4>5947-36-4 1754-62-7>103-26-4 2230-87-7>89-48-5 2345-26-8>2345-24-6 2385-77-5>106-23-0
    2623-23-6>89-48-5 2630-39-9>24851-98-7 3033-23-6>16409-43-1 3588-18-9>6752-80-3 3623-52-7>490-99-3
    3779-61-1>13877-91-3 3879-26-3>689-67-8 3879-60-5>4602-84-0 4192-77-2>103-36-6 4380-32-9>19317-11-4
    4407-36-7>104-54-1 4501-58-0>91819-58-8 4573-50-6>89-81-6 4610-11-1>16409-43-1 4695-62-9>1195-79-5
    5146-66-7>5585-39-7 5258-11-7>876-18-6 5655-61-8>76-49-3 5794-04-7>79-92-5 5912-86-7>97-54-1
    5948-04-9>5524-05-0 5989-33-3>60047-17-8 6091-50-5>89-81-6 6153-17-9>555-10-2 6380-24-1>93-15-2
    7541-49-3>102608-53-7 7705-14-8>138-86-3 7785-53-7>98-55-5 7786-67-6>89-79-2 7787-20-4>1195-79-5
    8000-41-7>98-55-5 8007-35-0>80-26-2 8013-90-9>14901-07-6 10402-47-8>10522-33-5 10482-56-1>98-55-5
    11028-42-5>19069-48-8 14009-71-3>14049-11-7 14912-44-8>15123-69-0 15356-60-2>2216-51-5
    15356-70-4>1490-04-6 15358-88-0>547-60-4 15537-55-0>546-79-2 15932-80-6>89-82-7 16106-95-9>4602-84-0
    16409-45-3>89-48-5 16721-38-3>491-04-3 16721-39-4>491-04-3 16812-40-1>30460-92-5 17699-16-0>546-79-2
    18309-32-5>80-57-9 18479-51-1>2270-57-7 18486-69-6>564-94-3 20126-76-5>562-74-3 20296-29-1>589-98-0
    20347-65-3>76-49-3 20777-39-3>25905-14-0 21040-45-9>103-54-8 21368-68-3>76-22-2 22327-39-5>99-49-0
    22564-99-4>78-70-6 23089-26-1>515-69-5 23696-85-7>23726-93-4 23726-92-3>35044-68-9 23726-94-5>43052-87-5
    24406-05-1>11044-40-9 24720-09-0>43052-87-5 25246-27-9>109119-91-7 25532-79-0>17627-44-0
    25679-28-1>104-46-1 26489-01-0>106-22-9 29066-34-0>89-48-5 29803-81-4>117066-76-9 29803-82-5>30630-16-1
    33880-83-0>100762-52-5 34686-71-0>25524-95-2 34995-77-2>60047-17-8 39028-58-5>14049-11-7
    40716-66-3>7212-44-4 42536-97-0>39924-52-2 51154-96-2>54814-64-1 51447-08-6>16356-11-9
    61692-84-0>7779-81-9 77129-48-7>18794-84-8 78548-53-5>20279-25-8
"""
MERGES = dict(pair.split(">") for pair in _MERGES.split())

# Where the package is wrong about a number, and why we keep ours.
WRONG = {
    "18252-44-3": "beta-copaene; the record is a trisulfonic acid",
    "21284-22-0": "cubenol; the record is a cage alcohol of like name, C8H6O",
    "1335-66-6": "isocyclocitral; the record writes two isomers of the mixture as one formula",
}


def numbers(constituent: Constituent) -> list[str]:
    """Return the CAS number and the further ones among the synonyms."""
    return [text for text in (constituent.cas, *constituent.synonyms) if looks_like_cas(text)]


def all_numbers() -> Iterator[tuple[str, Constituent]]:
    for constituent in REGISTRY:
        for number in numbers(constituent):
            yield number, constituent


def test_it_is_large_enough() -> None:
    assert len(REGISTRY) >= 320


def test_the_file_is_tidy() -> None:
    text = files("reaccord.names").joinpath("registry.csv").read_text(encoding="utf-8")
    for row in csv.reader(text.splitlines()):
        assert len(row) == 7, row
        assert all(cell == cell.strip() and "; " not in cell and " ;" not in cell for cell in row), row
        assert not any(cell.startswith(";") or cell.endswith(";") or ";;" in cell for cell in row), row


def test_every_number_has_its_check_digit() -> None:
    for number, constituent in all_numbers():
        assert check_digit_ok(number), (constituent.name, number)
        assert normalise_cas(number) == number


def test_every_name_means_one_constituent() -> None:
    owner: dict[str, str] = {}
    for constituent in REGISTRY:
        texts = [constituent.name, *constituent.synonyms, *([constituent.cas] if constituent.cas else [])]
        for text in texts:
            key = name_key(text)
            assert key not in owner, f'"{text}" of {constituent.name} is already a name of {owner.get(key)}'
            owner[key] = constituent.name


def test_every_formula_is_in_hill_order_and_has_its_rings() -> None:
    for constituent in REGISTRY:
        if constituent.formula:
            assert hill_order(constituent.formula) == constituent.formula, constituent.name
            assert constituent.benzene_rings is not None, constituent.name
        else:
            assert constituent.benzene_rings is None, constituent.name
            assert constituent.carrier or constituent.members, constituent.name


def test_every_formula_has_a_response() -> None:
    for constituent in REGISTRY:
        if constituent.formula and constituent.name != "water":
            factor = relative_response(constituent.formula, constituent.benzene_rings or 0)
            assert 0.5 < factor < 4.0, constituent.name


def test_members_are_known_isomers() -> None:
    for constituent in REGISTRY:
        assert len(constituent.members) != 1, constituent.name
        for member in constituent.members:
            assert member in BY_NAME, (constituent.name, member)
            if constituent.formula:
                assert BY_NAME[member].formula == constituent.formula, (constituent.name, member)
                assert BY_NAME[member].benzene_rings == constituent.benzene_rings, (constituent.name, member)


def test_formula_and_molar_mass_agree() -> None:
    for number, constituent in all_numbers():
        if not constituent.formula or number in LACKS or number in WRONG:
            continue
        record = search_chemical(number)
        assert record.formula == constituent.formula, (constituent.name, number)
        # 2e-4: the package computes with other editions of the atomic weights.
        assert molar_mass(constituent.formula) == pytest.approx(record.MW, rel=2e-4), constituent.name


def test_what_the_package_merges_is_listed() -> None:
    for number, constituent in all_numbers():
        if number not in LACKS:
            found = search_chemical(number).CASs
            assert found in (number, MERGES.get(number)), (constituent.name, number)


def test_the_lists_of_exceptions_hold_nothing_stale() -> None:
    ours = {number for number, _ in all_numbers()}
    assert ours >= LACKS
    assert set(MERGES) <= ours
    assert set(WRONG) <= ours
    for number in WRONG:
        assert search_chemical(number).formula != BY_NAME[WRONG[number].split(";")[0]].formula


@pytest.fixture(scope="module")
def book() -> NameBook:
    return NameBook.build((), Findings())


def test_what_the_package_leads_to_one_record_we_keep_apart(book: NameBook) -> None:
    # By name the package finds another substance for each of these.
    kept = {"nerol": "106-25-2", "neryl acetate": "141-12-8", "isomenthone": "491-07-6", "caryophyllene": "87-44-5"}
    for name, number in kept.items():
        found = book.find(name)
        assert found is not None
        assert found.cas == number
        assert book.find(number) is found
        assert search_chemical(name).CASs != number


GERANIUM = """citronellol; geraniol; linalool; nerol; alpha-terpineol; citronellyl formate; geranyl formate;
citronellyl acetate; geranyl acetate; citronellyl propionate; geranyl propionate; citronellyl butyrate;
geranyl butyrate; citronellyl tiglate; geranyl tiglate; phenylethyl tiglate; 2-phenylethanol; menthone;
isomenthone; cis-rose oxide; trans-rose oxide; 10-epi-gamma-eudesmol; guaia-6,9-diene; furopelargone A;
germacrene D; beta-bourbonene; delta-cadinene; beta-caryophyllene; alpha-humulene; alpha-pinene; myrcene;
limonene; (Z)-beta-ocimene; (E)-beta-ocimene; neral; geranial; geranyl hexanoate; citronellyl hexanoate;
phenylethyl propionate; viridiflorene; alpha-copaene; beta-agarofuran; geranyl isovalerate; dimethyl sulfide"""

# Single substances as the label names them: Regulation (EC) 1223/2009, Annex III, as amended by
# (EU) 2023/1545, read in a public transcription; one number each.
LABEL_NAMES = {
    "Acetyl Cedrene": "32388-55-9",
    "Alpha-Isomethyl Ionone": "127-51-5",
    "Amyl Cinnamal": "122-40-7",
    "Amylcinnamyl Alcohol": "101-85-9",
    "Anise Alcohol": "105-13-5",
    "Butylphenyl Methylpropional": "80-54-6",
    "Cinnamal": "104-55-2",
    "Dimethyl Phenethyl Acetate": "151-05-3",
    "Hexadecanolactone": "109-29-5",
    "Hexamethylindanopyran": "1222-05-5",
    "Hexyl Cinnamal": "101-86-0",
    "Hydroxyisohexyl 3-Cyclohexene Carboxaldehyde": "51414-25-6",
    "Methyl 2-Octynoate": "111-12-6",
    "Rose Ketones": "",
    "Tetramethyl acetyloctahydronaphthalenes": "68155-67-9",
    "Trimethylbenzenepropanol": "103694-68-4",
    "Trimethylcyclopentenyl Methylisopentenol": "67801-20-1",
    "3-Propylidenephthalide": "17369-59-4",
}

# As the source prints them: Benomari et al., Molecules 2023, 28, 4439 (a few of 121 columns).
AS_PRINTED = """α-thujene; thuja-2,4(10)diene; E-β-caryophyllene; Z-β-ocimene; trans-Hydrate sabinene; Fencyl alcohol;
Fenchyl acétate; Iso-Menthone; Neo-Menthol; Cis-p-Menth-2-en-1-ol; caryophyllene oxyde; Tau-cadinol;
α-gurjumene; epi-globulol; abieta-7,13-diene; α-Campholenol; cis-3-hexenyl-2-methyl butyrate"""

CARRIERS = """dipropylene glycol; propylene glycol; ethanol; water; triethyl citrate; isopropyl myristate;
diethyl phthalate; dipropylene glycol methyl ether; caprylic/capric triglyceride; jojoba oil"""


@pytest.mark.parametrize("listing", [GERANIUM, AS_PRINTED, CARRIERS])
def test_names_in_use_are_known(book: NameBook, listing: str) -> None:
    missing = [name for name in listing.replace("\n", " ").split("; ") if book.find(name) is None]
    assert missing == []


def test_label_names_are_known(book: NameBook) -> None:
    for name, number in LABEL_NAMES.items():
        found = book.find(name)
        assert found is not None, name
        assert not number or book.find(number) is found, name


def test_only_solvents_without_scent_are_carriers(book: NameBook) -> None:
    carriers = {c.name for c in REGISTRY if c.carrier}
    assert {name.strip() for name in CARRIERS.replace("\n", " ").split(";")} <= carriers
    assert "benzyl benzoate" not in carriers
    assert len(carriers) == 12
