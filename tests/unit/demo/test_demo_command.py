"""`bibula demo`: the folder it makes, the folders it leaves alone, and the whole way once."""

from __future__ import annotations

from pathlib import Path

import pytest

import bibula
from bibula.cli import demo
from bibula.cli.main import main
from bibula.demo import studio
from bibula.quantities.errors import InputError


def test_the_whole_way(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "studio"
    assert main(["demo", "--data", str(folder), "--members", "20", "--no-open"]) == 0
    out, err = capsys.readouterr()
    assert out.startswith("INVENTED EXAMPLE")
    assert "Traceback" not in err
    assert "Refused, as it must be" in out
    assert "the run fits the model" in out
    for name in (*studio.MATERIALS,):
        assert (folder / "cards" / f"{name}.toml").is_file()
    sheets = sorted(path.name for path in (folder / "sheets").glob("*.*"))
    assert len(sheets) == 8
    assert len(list((folder / "sheets" / "corrected").iterdir())) == 2
    page = (folder / "sheets" / sheets[0]).read_text(encoding="utf-8")
    assert "INVENTED" in page
    assert "forecast my-plan.toml" in out
    assert max(len(line) for line in out.splitlines() if str(folder) not in line) <= demo.width()


def test_a_changed_file_stays_and_a_missing_one_comes_back(tmp_path: Path) -> None:
    folder = tmp_path / "studio"
    assert studio.copy_studio(folder) == ()
    (folder / "plans" / "map.toml").write_text("changed", encoding="utf-8")
    (folder / "plans" / "poster.toml").unlink()
    assert studio.copy_studio(folder) == ("plans/map.toml",)
    assert (folder / "plans" / "map.toml").read_text(encoding="utf-8") == "changed"
    assert (folder / "plans" / "poster.toml").is_file()


def test_a_folder_of_anothers_is_left_alone(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "letters.txt").write_text("mine", encoding="utf-8")
    assert main(["demo", "--data", str(tmp_path), "--no-open"]) == 2
    assert "left alone" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["letters.txt"]


def test_a_file_in_the_way_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    with pytest.raises(InputError, match="left alone"):
        studio.copy_studio(tmp_path / "file")


def test_an_empty_folder_is_taken(tmp_path: Path) -> None:
    studio.copy_studio(tmp_path)
    assert (tmp_path / studio.MARK).is_file()


def test_never_inside_the_package() -> None:
    inside = Path(bibula.__file__).parent / "demo" / "copy"
    with pytest.raises(InputError, match="belongs to Bibula"):
        studio.copy_studio(inside)
    assert not inside.exists()


def test_the_default_folder_is_here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert demo.default_folder() == Path("bibula-demo")
    monkeypatch.setattr(demo.os, "access", lambda *_: False)
    assert demo.default_folder().name == "bibula-demo"
    assert demo.default_folder().is_absolute()


def test_too_few_members_are_refused_before_anything_is_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["demo", "--data", str(tmp_path / "x"), "--members", "2", "--no-open"]) == 2
    assert "--members" in capsys.readouterr().err
    assert not (tmp_path / "x").exists()
