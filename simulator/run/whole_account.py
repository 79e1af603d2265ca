"""The account of the whole: fuel, sun, electricity in; gas, envelope, air, ground, water out; the stores.

It is put together from the books of the parts, each kept where its heat flows are computed, so that heat
which one part gives and the next does not take shows in the residual.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.case.timetable import TICKS_PER_SECOND
from simulator.house import house_kernels as indoors
from simulator.plant import layout_kernels as fireside
from simulator.run.ledger import INDEX

if TYPE_CHECKING:
    from simulator.run.chain import Chain
    from simulator.run.chain_state import ChainState
    from simulator.run.state import RunState

SOURCES = ("fuel", "heater", "sun", "fan", "pump", "gain", "ground_ends", "make_up")
SINKS = ("flue_loss", "envelope", "exhaust", "outside_ground", "latent", "vented")
STORES = ("stored_ground", "stored_room", "stored_stove", "stored_water", "stored_mass")


def whole_account(chain: Chain, state: RunState, held: ChainState) -> dict[str, float]:
    """Return running totals [J] by name, and the residual: sources less sinks less what is stored.

    Parameters
    ----------
    chain : Chain
    state : RunState
    held : ChainState
    """
    ledger = state.ledger
    book = {name: float(ledger.totals[place]) for name, place in INDEX.items()}
    fire, house = held.plant_totals, held.house_totals
    account = dict.fromkeys((*SOURCES, *SINKS, *STORES), 0.0)
    account |= {
        "heater": book["heater"],
        "sun": book["sun"],
        "fan": book["fan"],
        "gain": chain.coupling.room.gains * max(state.tick, 0) / TICKS_PER_SECOND,
        "ground_ends": book["bottom"] + book["sides"],
        "envelope": book["envelope"] + book["infiltration"],
        "exhaust": book["exhaust"],
        "outside_ground": book["outside_ground"],
        "latent": -book["latent"],
        "stored_ground": ledger.stored_ground,
        "stored_room": ledger.stored_room,
        # Heat of a buried flue run comes back from what left the stove; without a stove it is a source.
        "flue_loss": -book["flue"],
    }
    if chain.plant is not None:
        account |= {
            "fuel": float(fire[fireside.FUEL]),
            "pump": float(fire[fireside.PUMP_HEAT]),
            "make_up": float(fire[fireside.MAKE_UP]),
            "heater": 0.0,
            "flue_loss": float(fire[fireside.FLUE_LOSS]) - book["flue"],
            "vented": float(fire[fireside.VENTED]),
            "stored_stove": float(fire[fireside.STORED_STOVE]),
            "stored_water": float(fire[fireside.STORED_WATER]),
        }
    if chain.house is not None:
        account |= {
            "sun": float(house[indoors.SUN_LET_IN]),
            # Sun that the surfaces take up themselves counts against what they lose.
            "envelope": float(house[indoors.COVER_LOSS] + house[indoors.SKY_LOSS] + house[indoors.AIR_LEAK])
            - float(house[indoors.SUN] - house[indoors.SUN_LET_IN])
            + held.drawn,
            "stored_mass": float(house[indoors.STORED_MASS]),
        }
        account["latent"] += float(house[indoors.EVAPORATION] - house[indoors.CONDENSATION_HEAT])
    account["residual"] = (
        sum(account[name] for name in SOURCES)
        - sum(account[name] for name in SINKS)
        - sum(account[name] for name in STORES)
    )
    return account
