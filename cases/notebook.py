# %% [markdown]
# # A night in the boat shed, step by step
#
# Open this file as a notebook (most editors know cells marked with percent signs) or run it as it is:
# `python cases/notebook.py`. It needs the extra: `pip install ".[xarray]"`.

# %%
from pathlib import Path

import simulator

HERE = Path(__file__).parent if "__file__" in globals() else Path.cwd()

# %% [markdown]
# A case is loaded and checked, then run; without a file name the results stay in memory. In a notebook the
# last line of a cell shows itself: results as a list of their datasets, answers as tables in both systems of
# units.

# %%
case = simulator.load(HERE / "overnight.toml")
results = simulator.run(case)
results

# %%
night = simulator.overnight(results)
night

# %% [markdown]
# Every answer is a frozen dataclass: its numbers have names, in SI.

# %%
low = night.lows["room"]
print(f"The room is down to {low.temperature:.1f} degC at {low.at:%H:%M}.")
print(f"{night.heat.put_into_ground / 3.6e6:.1f} kWh went into the ground, "
      f"{night.heat.given_back / 3.6e6:.1f} kWh came back.")  # fmt: skip

# %% [markdown]
# What to beware of, with the source of every limit.

# %%
simulator.cautions(results)

# %% [markdown]
# The way of the heat through the night, to scale. Pictures are ordinary matplotlib figures.

# %%
begin, end = night.window.begin, night.window.end
simulator.heat_flow_picture_of_results(results, begin, end)

# %%
simulator.night_chart(results, begin, end)

# %% [markdown]
# All datasets at once, read only when they are used: with coordinates, units and long names.

# %%
dataset = results.to_xarray()
walls = dataset["wall_temperature"].mean("station")
hottest = walls.sel(time=slice(str(begin), str(end))).max("time")
print(hottest.values.round(1), dataset["wall_temperature"].units)

# %% [markdown]
# The sums on the back of an envelope: what a water coil would take from this fire, with the errors of two
# thermometers and a flow meter.

# %%
coil = simulator.water_sum(
    flow="1.4 gpm", flow_within="5 %", entering="60 degF", leaving="81.4 degF", thermometers_within="1 degF",
    whole="13.2 kW",
)  # fmt: skip
print(coil["heat"].both("US"), "is", coil["share"].text(), "of the fire")
coil
