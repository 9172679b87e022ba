"""The lines of pandas in server/files/README.md load the season tables, from files and from a server that runs."""

from __future__ import annotations

import json
import re
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from click.testing import CliRunner
from werkzeug.serving import make_server

from server import create_app
from server.__main__ import main
from server.files.season_tables.dictionary import tables
from tests.made_once import copy_demo
from tests.tiers import some

README = (Path(__file__).parents[2] / "server" / "files" / "README.md").read_text(encoding="utf-8")
EXACT = 1e-9
OTHER = "Robin Example"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """The demo season in a database, its package beside it, the environment pointing there."""
    place = tmp_path_factory.mktemp("readme")
    with pytest.MonkeyPatch.context() as patched:
        patched.setenv("PENCILBAG_DATABASE", f"sqlite:///{place / 'log.sqlite'}")
        copy_demo(place / "log.sqlite")
        run("export", "--season", "2026", "--to", str(place))
        other = pd.read_csv(place / "shots_2026.csv", dtype=str)
        other = other[other["played_on"].le(sorted(set(other["played_on"]))[5])]
        other.drop(columns=["player", "player_id", "round_id", "shot_id"]).to_csv(place / "other.csv", index=False)
        run("import", str(place / "other.csv"), "--player", OTHER)
        run("export", "--season", "2026", "--to", str(place), "--package", "--format", "all")
        yield place


def run(*words: str) -> str:
    """What a command prints."""
    done = CliRunner().invoke(main, list(words))
    assert done.exit_code == 0, done.output
    return done.stdout


@pytest.fixture(scope="module")
def address(folder: Path) -> Iterator[str]:
    """A server of that database on this machine."""
    app = create_app({"DATABASE": f"sqlite:///{folder / 'log.sqlite'}"})
    server = make_server("127.0.0.1", 0, app, threaded=True)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}"
    server.shutdown()
    thread.join(timeout=10)
    server.server_close()
    app.extensions["pencilbag_engine"].dispose()


def summaries(by: str) -> dict[str, list[dict[str, Any]]]:
    """Player id -> the rows of `summary --json`."""
    found = json.loads(run("summary", "--everyone", "--by", by, "--json"))
    return {one["player_id"]: one["rows"] for one in found}


def test_the_lines_of_the_readme_give_the_numbers_of_the_summary(folder: Path, address: str) -> None:
    (lines,) = [
        block for block in re.findall(r"```python\n(.*?)```", README, flags=re.DOTALL) if "/api/season/" in block
    ]
    assert "DIR/" in lines
    assert "http://127.0.0.1:8000/" in lines
    names: dict[str, Any] = {}
    exec(lines.replace("DIR/", f"{folder}/").replace("http://127.0.0.1:8000", address), names)
    told = summaries("club")
    expected = {(player, row["club"]): row for player, rows in told.items() for row in rows}
    both = [{club for player, club in expected if player == one} for one in told]
    assert len(both) == 2
    assert len(both[0] & both[1]) > 10
    by_club = names["by_club"].to_dict("index")
    assert set(by_club) == set(expected)
    for club, row in expected.items():
        assert by_club[club]["count"] == row["shots"]
        assert by_club[club]["sum"] == pytest.approx(row["strokes_gained"], abs=EXACT)
        assert by_club[club]["mean"] == pytest.approx(row["per_shot"], abs=EXACT)
    for player, rows in told.items():
        best = names["best"][names["best"]["player_id"].eq(player)]
        assert list(best["club"]) == [row["club"] for row in rows[:3]]
    assert names["rounds"]["played_on"].dt.year.eq(2026).all()
    assert list(names["clubs"].columns) == list(tables()["clubs"].names)


@pytest.mark.parametrize("name", some(tables(), 1, 2, -1))
def test_two_lines_load_each_table_from_an_address_in_each_format(folder: Path, address: str, name: str) -> None:
    from_file = pd.read_parquet(folder / f"{name}_2026.parquet")
    place = f"{address}/api/season/2026/{name}"
    pd.testing.assert_frame_equal(pd.read_parquet(f"{place}.parquet"), from_file)
    numbers = from_file.select_dtypes("number").columns
    for found in (pd.read_csv(f"{place}.csv"), pd.read_excel(f"{place}.xlsx", skiprows=[1])):
        assert list(found.columns) == list(from_file.columns)
        # a column without any value has no type of its own in a text
        pd.testing.assert_frame_equal(
            found[numbers].astype("float64"), from_file[numbers].astype("float64"), atol=EXACT
        )


@pytest.mark.parametrize("by", ["club", "category"])
def test_the_summary_tables_are_the_summary(address: str, by: str) -> None:
    found = pd.read_csv(f"{address}/api/season/2026/{by}_summary.csv")
    expected = pd.concat([pd.DataFrame(summaries(by)[player]) for player in dict.fromkeys(found["player_id"])])
    expected = expected.reset_index(drop=True)
    assert list(found[by]) == list(expected[by])
    same = [name for name in expected.columns if name in found.columns and expected[name].dtype.kind in "fi"]
    assert len(same) >= 10
    pd.testing.assert_frame_equal(found[same], expected[same], check_dtype=False, rtol=0, atol=EXACT)
