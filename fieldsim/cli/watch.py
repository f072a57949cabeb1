"""`watch`: a window, a picture or a film; and what the command does without any word."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path
from typing import Any

import click

from fieldsim.cli.group import command
from fieldsim.cli.kinds import DecimalNumber, FileName, Seconds, Size
from fieldsim.cli.options import SEED, THREADS
from fieldsim.cli.say import echo
from fieldsim.cli.status import DONE
from fieldsim.cli.waiting import getting_ready, progress
from fieldsim.language import tr


@command(
    "watch",
    tr(
        "See a run drive, and change it while the odds follow; play a match; draw a field; or, with a folder or "
        "without FILE, begin with the whole season."
    ),
)
@click.argument("file", metavar=tr("[FILE]"), type=FileName(), required=False)
@click.option(
    "--picture",
    "picture_file",
    metavar=tr("PNG"),
    type=FileName(),
    help=tr("No window: a picture of it."),
)
@click.option("--at", type=Seconds(), help=tr("The picture shows this time of the run, such as 12.5s."))
@click.option(
    "--film",
    "film_file",
    metavar=tr("GIF"),
    type=FileName(),
    help=tr("No window: a film, GIF or WebP."),
)
@click.option("--size", type=Size(), help=tr("Its size in pixels, such as 1600x900."))
@click.option("--scale", type=DecimalNumber(0.5, 4.0), help=tr("How large the letters are.  [default: by the screen]"))
@click.option("--dark", is_flag=True, help=tr("Dark, for a picture or film."))
@click.option("--new-field", is_flag=True, help=tr("FILE is not there yet: draw a field and save it there."))
@SEED
@THREADS
def watch(
    file: Path | None,
    picture_file: Path | None,
    at: float | None,
    film_file: Path | None,
    size: tuple[int, int] | None,
    scale: float | None,
    dark: bool,
    new_field: bool,
    seed: int,
    threads: int | None,
) -> int:
    if picture_file is not None and film_file is not None:
        raise click.UsageError(tr("--picture and --film are two things; ask for one of them."))
    if at is not None and picture_file is None:
        raise click.UsageError(tr("--at is for --picture."))
    from fieldsim.files import kind_of
    from fieldsim.model.errors import FileError

    still: dict[str, Any] = {"size": size, "scale": scale or 1.0, "dark": dark}
    still = {key: value for key, value in still.items() if value is not None}
    pictured = picture_file is not None or film_file is not None
    file = Path() if file is None else file
    # A file with mistakes is shown in the window with them; a run most likely.
    kind = "run"
    missing = False
    if file.is_dir():
        kind = "season"
    elif pictured or file.exists():
        with suppress(FileError):
            kind = kind_of(file)
    else:
        from fieldsim.window.season.files import meant_by_name

        kind = "field" if new_field else meant_by_name(file)
        if kind == "field":
            echo(tr("{file} is not there yet: draw a field, and saving makes it.", file=file))
        else:
            missing = True
    with getting_ready():
        import fieldsim.window.quick  # noqa: F401

        if pictured:
            from fieldsim.window import record

            if film_file is not None:
                if kind == "field":
                    raise click.UsageError(tr("A film needs a run; a field stands still."))
                if kind == "robot":
                    raise click.UsageError(tr("A film needs a run; {file} is a robot.", file=file))
                if kind == "season":
                    raise click.UsageError(tr("A film needs a run; {folder} is a folder.", folder=file))
                if kind == "match":
                    from fieldsim.window.match.app import film_match as make_film
                else:
                    make_film = record.film
                with progress() as tell:
                    make_film(file, film_file, seed=seed, threads=threads, watch=tell, **still)
            elif kind == "field":
                from fieldsim.window.field.app import picture_field

                if at is not None:
                    raise click.UsageError(tr("--at needs a run; a field stands still."))
                assert picture_file is not None
                picture_field(file, picture_file, **still)
            elif kind == "robot":
                from fieldsim.window.robot.app import picture_robot

                if at is not None:
                    raise click.UsageError(tr("--at needs a run; {file} is a robot.", file=file))
                assert picture_file is not None
                picture_robot(file, picture_file, **still)
            elif kind == "season":
                from fieldsim.window.season.app import picture_season

                if at is not None:
                    raise click.UsageError(tr("--at needs a run; {folder} is a folder.", folder=file))
                assert picture_file is not None
                picture_season(file, picture_file, seed=seed, **still)
            else:
                assert picture_file is not None
                if kind == "match":
                    from fieldsim.window.match.app import picture_match as make_picture
                else:
                    make_picture = record.picture
                make_picture(file, picture_file, at=at, seed=seed, threads=threads, **still)
            echo(tr("Wrote {file}", file=film_file or picture_file))
            return DONE
        from fieldsim.window.doors import doors
        from fieldsim.window.loop import NoScreenError, Opening, open_window

    leads = doors(seed=seed, threads=threads)
    opening = Opening("season", file.parent, (file, kind)) if missing else Opening(kind, file)
    try:
        open_window(lambda size, scale: leads(opening, size, scale), size, scale, doors=leads)
    except NoScreenError as problem:
        if missing:
            raise click.UsageError(
                tr(
                    "There is no file {file}. To draw a new field and save it there: fieldsim watch {file} --new-field",
                    file=file,
                )
            ) from problem
        raise
    return DONE
