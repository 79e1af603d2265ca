"""What is said about branches, fan curves, moisture and flue runs that cannot be."""

from __future__ import annotations

import re

import pytest

from simulator.case.loader import load_text, starter_text
from simulator.errors import CaseError

TEXT = starter_text()


def changed(section: str, drop: tuple[str, ...], add: str) -> str:
    begin = TEXT.index(f"\n[{section}]")
    end = TEXT.index("\n[", begin + 5)
    part = TEXT[begin:end]
    for key in drop:
        part, found = re.subn(rf"(?m)^{key} = .*$", "", part)
        assert found == 1, key
    heading, _, rest = part[1:].partition("\n")
    return f"{TEXT[:begin]}\n{heading}\n{add}\n{rest}{TEXT[end:]}"


def tables(add: str) -> str:
    return TEXT.replace("\n[numerics]", f"\n{add}\n[numerics]")


EVEN = ("count", "spacing", "depth")
FLOW = ("flow",)
RUN = '{ across = "1 m", depth = "40 cm"'
FIRE = 'rate = "2 kg/h"\ntemperature = "200 degC"\n'
FLUE = '[flue]\nacross = "0 m"\ndepth = "1.5 m"\ndiameter = "15 cm"\n'



def burn(after: str) -> str:
    return f'{{ after = "{after}", rate = "2 kg/h", temperature = "200 degC" }}'


SAID = {
    "branch without runs": (
        changed("ducts", EVEN, "branches = [{ runs = [] }]"), "runs: has too few entries",
    ),
    "no branches": (changed("ducts", EVEN, "branches = []"), "branches: has too few entries"),
    "run without length": (
        changed("ducts", EVEN, f'branches = [{{ runs = [{RUN}, along_from = "2 m", along_to = "2 m" }}] }}]'),
        "along_to = \"2 m\": gives a run without length",
    ),
    "run past the floor": (
        changed("ducts", EVEN, f'branches = [{{ runs = [{RUN}, along_to = "50 m" }}] }}]'),
        "lies beyond the floor",
    ),
    "runs in one place": (
        changed("ducts", EVEN, f'branches = [{{ runs = [{RUN} }}] }}, {{ runs = [{RUN} }}] }}]'),
        "shares 12.19 m of the same place with another run",
    ),
    "runs that touch": (
        changed(
            "ducts", EVEN, f'branches = [{{ runs = [{RUN} }}, {{ across = "1.05 m", depth = "40 cm" }}] }}]'
        ),
        "touches another run",
    ),
    "branches beside count": (
        changed("ducts", (), f"branches = [{{ runs = [{RUN} }}] }}]"), "is given beside branches",
    ),
    "zero diameter": (changed("ducts", ("diameter",), 'diameter = "0 in"'), "must be above 0"),
    "odd pairs": (
        changed("ducts", ("count", "layout"), 'count = 7\nlayout = "there and back"'),
        "must be a multiple of 2",
    ),
    "one tier of two": (changed("ducts", ("layout",), 'layout = "two tiers"'), "needs lower_depth"),
    "tiers that touch": (
        changed("ducts", ("layout",), 'layout = "two tiers"\nlower_depth = "18 in"'), "makes the tiers touch",
    ),
    "unknown pipe": (changed("ducts", (), 'material = "polyethylen"'), "did you mean 'polyethylene'"),
    "rough without roughness": (changed("ducts", ("surface",), 'surface = "rough"'), "needs a roughness"),
    "manning of smooth pipe": (changed("ducts", (), "manning = 0.015"), 'needs surface = "ribbed"'),
    "curve that rises for ever": (
        changed("fan", FLOW, 'curve = { flows = ["0 cfm", "200 cfm"], pressures = ["100 Pa", "120 Pa"] }'),
        "a fan whose pressure rises for ever meets no resistance",
    ),
    "polynomial that rises": (
        changed("fan", FLOW, 'curve = { coefficients = [100.0, 50.0], highest_flow = "0.2 m3/s" }'),
        "rises at highest_flow",
    ),
    "curve of unlike lists": (
        changed("fan", FLOW, 'curve = { flows = ["0 cfm", "200 cfm"], pressures = ["100 Pa"] }'),
        "pressures: has too few entries",
    ),
    "curve by points and polynomial": (
        changed(
            "fan", FLOW,
            'curve = { flows = ["0 cfm", "9 cfm"], coefficients = [9.0, -5.0], highest_flow = "0.2 m3/s" }',
        ),
        "is given beside coefficients",
    ),
    "polynomial without end": (
        changed("fan", FLOW, "curve = { coefficients = [100.0, -50.0] }"), "needs highest_flow",
    ),
    "end without polynomial": (
        changed("fan", FLOW, 'curve = { flows = ["0 cfm", "200 cfm"], highest_flow = "0.2 m3/s" }'),
        "belongs to coefficients",
    ),
    "curve without pressures": (
        changed("fan", FLOW, 'curve = { flows = ["0 cfm", "200 cfm"] }'), "needs flows and pressures",
    ),
    "curve that goes back": (
        changed("fan", FLOW, 'curve = { flows = ["200 cfm", "0 cfm"], pressures = ["9 Pa", "8 Pa"] }'),
        "flows: must rise from entry to entry",
    ),
    "curve that begins below 0": (
        changed("fan", FLOW, 'curve = { flows = ["0 cfm", "200 cfm"], pressures = ["0 Pa", "0 Pa"] }'),
        "pressures: must begin above 0",
    ),
    "curve beside flow": (
        changed("fan", (), 'free_delivery = "450 cfm"\nshut_off = "1 in wg"'), "is given beside flow",
    ),
    "half a pair": (changed("fan", FLOW, 'free_delivery = "450 cfm"'), "needs shut_off beside it"),
    "humidity over 100 %": (tables("[moisture]\nroom_humidity = 1.2"), "must not be above 1"),
    "humidity in per cent": (tables('[moisture]\nroom_humidity = "80 %"'), "must be a plain number"),
    "flue without fire": (tables(FLUE), "needs rate and temperature, or burn and lit_at"),
    "fire without temperature": (tables(f'{FLUE}rate = "2 kg/h"'), "needs both rate and temperature"),
    "jacket inside the pipe": (
        tables(f'{FLUE}{FIRE}jacket = {{ diameter = "12 cm", flow = "50 cfm" }}'),
        "must be wider than the gas pipe",
    ),
    "flue in a duct": (
        tables(
            '[flue]\nacross = "14 in"\ndepth = "16 in"\ndiameter = "15 cm"\n' + FIRE
        ),
        "the flue touches duct",
    ),
    "wet wood": (
        tables(f'{FLUE}{FIRE}fuel_moisture = 0.9'), "must not be above 0.6",
    ),
    "too little air": (
        tables(f'{FLUE}{FIRE}excess_air = 0.8'), "must not be below 1",
    ),
    "ducts that begin beyond the floor": (
        changed("ducts", ("along_from",), 'along_from = "90 ft"'), "lies beyond the floor",
    ),
    "ducts longer than the floor": (
        changed("ducts", (), 'length = "90 ft"'), "is more than the floor's length",
    ),
    "flue below the ground": (tables(FLUE.replace("1.5", "90") + FIRE), "flue"),
    "flue past the floor": (tables(f'{FLUE}{FIRE}along_to = "90 ft"'), "lies beyond the floor"),
    "flue without length": (
        tables(f'{FLUE}{FIRE}along_from = "2 m"\nalong_to = "2 m"'), "gives a run without length",
    ),
    "fire and burn": (
        tables(f'{FLUE}{FIRE}lit_at = ["18:00"]\nburn = [{burn("0 min")}, {burn("1 h")}]'),
        "is given beside rate and temperature",
    ),
    "burn never lit": (tables(f'{FLUE}burn = [{burn("0 min")}, {burn("1 h")}]'), "needs lit_at"),
    "lit without burn": (tables(f'{FLUE}{FIRE}lit_at = ["18:00"]'), "lit_at"),
    "burn that begins late": (
        tables(f'{FLUE}lit_at = ["18:00"]\nburn = [{burn("5 min")}, {burn("1 h")}]'),
        'must begin with after = "0 min"',
    ),
    "burn out of order": (
        tables(f'{FLUE}lit_at = ["18:00"]\nburn = [{burn("0 min")}, {burn("2 h")}, {burn("1 h")}]'),
        "burn: must rise from entry to entry",
    ),
    "lit out of order": (
        tables(f'{FLUE}lit_at = ["18:00", "06:00"]\nburn = [{burn("0 min")}, {burn("2 h")}]'),
        "lit_at: must rise from entry to entry",
    ),
    "burn into the next": (
        tables(f'{FLUE}lit_at = ["16:00", "18:00"]\nburn = [{burn("0 min")}, {burn("3 h")}]'),
        "lasts longer than the time to the next lighting",
    ),
    "moisture in a room without volume": (
        tables('[moisture]\nroom_humidity = 0.5\ngain = "1 kg/h"').replace('volume = "7200 ft3"', "", 1),
        "needs the room's volume",
    ),
}  # fmt: skip


@pytest.mark.parametrize(("text", "said"), SAID.values(), ids=SAID)
def test_message(text: str, said: str) -> None:
    with pytest.raises(CaseError) as caught:
        load_text(text, path="workshop.toml")
    assert said in str(caught.value)
    assert str(caught.value).startswith("workshop.toml:")
