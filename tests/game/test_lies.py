"""Lie codes from every form in which lies arrive."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from server.game.lies import CODE, LIES, UNKNOWN, VALUED_AS, lie_codes, lie_names

NAMES = ["green", "tee", None, "fairway", "water", "fringe", "rough", "sand", "recovery", float("nan"), "Tee", ""]
CODES = [6, 0, -1, 1, -1, 2, 3, 4, 5, -1, -1, -1]


def test_codes_are_the_places_of_the_names():
    assert LIES == ("tee", "fairway", "fringe", "rough", "sand", "recovery", "green")
    assert CODE == {"tee": 0, "fairway": 1, "fringe": 2, "rough": 3, "sand": 4, "recovery": 5, "green": 6}
    assert VALUED_AS == {"fringe": "fairway"}


@pytest.mark.parametrize(
    "form",
    [
        list,
        lambda names: np.array(names, dtype=object),
        lambda names: pd.Series(names, dtype=object),
        lambda names: pd.Series(names, dtype="str"),
        lambda names: pd.Series(names, dtype="string"),
        lambda names: pd.Index(names, dtype=object),
        lambda names: pd.array(names, dtype="str"),
        pd.Categorical,
        lambda names: pd.Series(pd.Categorical(names)),
        lambda names: pd.Series(pd.Categorical(names, categories=["recovery", "water", *LIES[:5], "green", "Tee", ""])),
        lambda names: pd.Series(names, dtype=object, index=range(99, 99 - len(names), -1)),
    ],
    ids=[
        "list",
        "array",
        "object",
        "str",
        "string",
        "index",
        "str array",
        "categorical",
        "category",
        "order",
        "reversed",
    ],
)
def test_names_in_every_form(form):
    codes = lie_codes(form(NAMES))
    assert codes.dtype == np.int8
    assert codes.tolist() == CODES


def test_fixed_width_text():
    assert lie_codes(np.array(["sand", "green", "sea"])).tolist() == [4, 6, -1]


@pytest.mark.parametrize("dtype", [np.int8, np.int16, np.int64, np.uint8])
def test_codes_pass_through(dtype):
    given = np.array([0, 6, 3, 1], dtype=dtype)
    codes = lie_codes(given)
    assert codes.dtype == np.int8
    assert codes.tolist() == [0, 6, 3, 1]


@pytest.mark.parametrize("dtype", [np.int8, np.int16, np.int64])
def test_codes_that_are_no_lie_are_unknown(dtype):
    given = np.array([-1, 7, 8, 9, -8, 100, 6], dtype=dtype)
    assert lie_codes(given).tolist() == [-1, -1, -1, -1, -1, -1, 6]
    assert given.tolist() == [-1, 7, 8, 9, -8, 100, 6]


def test_codes_wider_than_a_byte_do_not_wrap_round():
    assert lie_codes(np.array([256, 257, -256])).tolist() == [-1, -1, -1]


@pytest.mark.parametrize("empty", [[], np.array([], dtype=np.int8), pd.Series([], dtype="str"), pd.Categorical([])])
def test_no_lies_no_codes(empty):
    codes = lie_codes(empty)
    assert codes.shape == (0,)
    assert codes.dtype == np.int8


def test_other_things_are_unknown():
    assert lie_codes(np.array([True, 1.0, b"tee", "tee"], dtype=object)).tolist() == [UNKNOWN, UNKNOWN, UNKNOWN, 0]


def test_names_of_codes():
    names = lie_names(np.array([6, 0, -1, 2], dtype=np.int8))
    assert names.categories.tolist() == list(LIES)
    assert names.tolist()[:2] == ["green", "tee"]
    assert pd.isna(names[2])
    assert names[3] == "fringe"


def test_there_and_back():
    codes = np.array([*range(7), -1], dtype=np.int8)
    assert lie_codes(lie_names(codes)).tolist() == codes.tolist()
