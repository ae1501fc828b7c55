"""Making the invented library on disk, and changing it for the demo's second act.

Deterministic: the same ffmpeg gives the same files. The functions of the second act each do one
thing a listener does to a library, and return a sentence that says what was done.
"""

import subprocess
from collections.abc import Callable, Iterable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from syncd.demo import invented, synth
from syncd.demo.covers import cover
from syncd.demo.score import OPENINGS, Piece, phrase
from syncd.demo.shelf import DemoFolder, DemoTrack, Form
from syncd.demo.tagging import flac_tags, write_tags
from syncd.errors import SetupProblem

WORKERS = 2

Progress = Callable[[int, int], None]
"""Called with the number of files made so far, and of all."""

_EXACT = ("-map_metadata", "-1", "-fflags", "+bitexact", "-flags:a", "+bitexact")
_ENCODE: Mapping[Form, tuple[str, ...]] = {
    "flac": ("-c:a", "flac", "-compression_level", "5"),
    "flac-24-96": (
        *("-c:a", "flac", "-compression_level", "5"),
        *("-sample_fmt", "s32", "-bits_per_raw_sample", "24"),
    ),
    "mp3": ("-c:a", "libmp3lame", "-q:a", "2", "-id3v2_version", "0"),
    "aac": ("-c:a", "aac", "-b:a", "160k"),
    "alac": ("-c:a", "alac"),
    "vorbis": ("-c:a", "libvorbis", "-q:a", "5"),
    "opus": ("-c:a", "libopus", "-b:a", "112k"),
}
_MUXER: Mapping[Form, str] = {
    "flac": "flac",
    "flac-24-96": "flac",
    "mp3": "mp3",
    "aac": "mp4",
    "alac": "mp4",
    "vorbis": "ogg",
    "opus": "ogg",
}


@dataclass(frozen=True, slots=True)
class _Job:
    path: Path
    folder: DemoFolder
    track: DemoTrack
    picture: bytes | None


def make_library(folder: Path, ffmpeg: str, progress: Progress | None = None) -> list[Path]:
    """Make the invented library under *folder*; the files made, in order, pictures among them.

    *ffmpeg* is the program to encode with. Files that are there already are replaced. Raises
    SetupProblem when a file cannot be encoded or written.
    """
    return _make(folder, invented.LIBRARY, ffmpeg, progress)


def retag_one(folder: Path) -> str:
    """Correct the one misspelt movement title, in tags alone; says what was done."""
    path = folder / invented.MISSPELT
    _must_be_there(path)
    file = flac_tags(path)
    for name in ("TITLE", "MOVEMENTNAME"):
        file[name] = [text.replace("Alegro con brio", "Allegro con brio") for text in file[name]]
    file.save()
    return (
        "Corrected a misspelt tag: the first movement of Beethoven's Symphony No. 5 under "
        "Teodor Vasslin is now called 'Allegro con brio'."
    )


def add_recording(folder: Path, ffmpeg: str) -> str:
    """Put a further recording into the library; says what was done."""
    _make(folder, (invented.ADDED,), ffmpeg, None)
    count = len(invented.ADDED.tracks)
    return f"Added a recording: Haydn's Symphony No. 94, {count} FLAC files in Haydn/Surprise."


def move_folder(folder: Path) -> str:
    """Move a folder to another place and name; says what was done."""
    source, target = folder / invented.GRIEG, folder / invented.GRIEG_MOVED
    _must_be_there(source)
    target.parent.mkdir(parents=True, exist_ok=True)
    source.rename(target)
    if not any(source.parent.iterdir()):
        source.parent.rmdir()
    return f"Moved the folder {invented.GRIEG} to {invented.GRIEG_MOVED}."


def remove_recording(folder: Path) -> str:
    """Take a recording out of the library (its files, and no others); says what was done."""
    path = folder / invented.BEETHOVEN_MP3
    _must_be_there(path)
    (gone,) = (one for one in invented.LIBRARY if one.path == invented.BEETHOVEN_MP3)
    for name, _ in gone.files():
        (folder / name).unlink(missing_ok=True)
    (path / "cover.jpg").unlink(missing_ok=True)
    if not any(path.iterdir()):
        path.rmdir()
    return (
        "Removed a recording: Beethoven's Symphony No. 5 under Ilvana Brandtner-Koss, "
        f"{len(gone.tracks)} MP3 files. The other recording of the work stays."
    )


def _make(
    root: Path, folders: Iterable[DemoFolder], ffmpeg: str, progress: Progress | None
) -> list[Path]:
    made: list[Path] = []
    jobs: list[_Job] = []
    try:
        for folder in folders:
            place = root / folder.path
            place.mkdir(parents=True, exist_ok=True)
            picture = None
            if folder.cover != "none":
                picture = cover(folder.tags["ALBUM"], folder.colours)
            if folder.cover == "file" and picture is not None:
                (place / "cover.jpg").write_bytes(picture)
                made.append(place / "cover.jpg")
                picture = None
            jobs += [_Job(root / name, folder, track, picture) for name, track in folder.files()]
    except OSError as error:
        raise _not_written(root, error) from error
    with ThreadPoolExecutor(WORKERS) as workers:
        try:
            paths = workers.map(lambda job: _one(job, ffmpeg), jobs)
            for count, path in enumerate(paths, start=1):
                made.append(path)
                if progress is not None:
                    progress(count, len(jobs))
        except BaseException:
            workers.shutdown(cancel_futures=True)
            raise
    return sorted(made)


def _one(job: _Job, ffmpeg: str) -> Path:
    high = job.folder.form == "flac-24-96"
    rate, bits = (96000, 24) if high else (44100, 16)
    samples = synth.render(_piece(job), rate, bits)
    try:
        if job.folder.form == "wav":
            job.path.write_bytes(synth.wav_bytes(samples, rate, bits))
        else:
            _encode(job, samples, rate, bits, ffmpeg)
        write_tags(job.path, job.folder, {**job.folder.tags, **job.track.tags}, job.picture)
    except OSError as error:
        raise _not_written(job.path, error) from error
    return job.path


def _piece(job: _Job) -> Piece:
    track, folder = job.track, job.folder
    if track.music:
        piece = OPENINGS[track.music]
        return Piece(piece.tempo * folder.speed, piece.voices)
    seed = f"{folder.path}/{track.name}"
    return phrase(track.key, track.tempo * folder.speed, folder.instruments, seed)


def _encode(job: _Job, samples: bytes, rate: int, bits: int, ffmpeg: str) -> None:
    form = job.folder.form
    command = [
        *(ffmpeg, "-nostdin", "-v", "error", "-y"),
        *("-f", f"s{bits}le", "-ar", str(rate), "-ac", "2", "-i", "pipe:0"),
        *(*_EXACT, *_ENCODE[form], "-f", _MUXER[form], f"file:{job.path}"),
    ]
    try:
        done = subprocess.run(command, input=samples, capture_output=True, check=False)
    except OSError as error:
        raise SetupProblem(
            f"The encoder {ffmpeg} cannot be started: {error.strerror or error}. "
            "Install ffmpeg, or the Python package imageio-ffmpeg, which brings one."
        ) from error
    if done.returncode != 0:
        said = done.stderr.decode(errors="replace").strip().splitlines()
        raise SetupProblem(
            f"The demo's file {job.path} could not be encoded: "
            f"{said[-1] if said else f'ffmpeg ended with status {done.returncode}'}. "
            "Check that the disk is not full and that ffmpeg has the usual encoders."
        )


def _must_be_there(path: Path) -> None:
    if not path.exists():
        raise SetupProblem(
            f"The demo's library lacks {path}: it was changed already or is not complete. "
            "Make it anew in an empty folder."
        )


def _not_written(path: Path, error: OSError) -> SetupProblem:
    return SetupProblem(
        f"The demo's library cannot be written at {path}: {error.strerror or error}. "
        "Choose a folder that can be written, with 30 MB free."
    )
