"""What a run says of its own exactness."""

from __future__ import annotations

from simulator.answers.assurance import assurance


def test_a_reduced_run_names_its_error():
    lines = dict(
        assurance(
            {
                "cells": 5102, "states": 107, "stations": 24, "solver": "reduced", "reduction_error": 0.0034,
                "largest_ledger_residual": 2.2e-12,
            }
        )
    )  # fmt: skip
    assert (
        lines["Ground"] == "24 sections of 5102 cells, reduced: 107 states, within 0.003 K of the full mesh"
    )
    assert lines["Ledger"] == "closes to 2e-12 of the heat handled, at every step"


def test_a_direct_run_needs_no_estimate():
    lines = dict(assurance({"cells": 900, "states": 900, "stations": 2, "solver": "full mesh, direct"}))
    assert lines == {"Ground": "2 sections of 900 cells, full mesh, direct"}


def test_results_without_numbers_say_nothing():
    assert assurance({}) == []


def test_a_spot_check_stands_beside_what_is_allowed():
    summary = {
        "reduction_error": 0.0034, "spot_check_difference": 0.0012, "spot_check_allowed": 0.005,
        "spot_check_hours": [1.0, 24.0, 2880.0],
    }  # fmt: skip
    lines = dict(assurance(summary))
    assert lines["Spot check"] == (
        "heat that swings every 1 h, 24 h, 120 d: 0.001 K from the full mesh; allowed 0.005 K"
    )


def test_a_spot_check_that_fails_says_so():
    summary = {"spot_check_difference": 0.05, "spot_check_allowed": 0.005, "spot_check_hours": [24.0]}
    lines = dict(assurance(summary))
    assert lines["Spot check"].startswith("FAILED: ")
    assert "0.05 K from the full mesh" in lines["Spot check"]
