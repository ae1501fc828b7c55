"""Movements at a high rate arrive on a card as the uncut music would, from scan to card."""

from pathlib import Path

import numpy as np
import soundfile
from update_kit import Place, tag

from syncd.profile import Encode, Plays, Profile

RATE, NEW = 96000, 44100


def test_movements_that_run_on_do_so_on_the_card_at_a_lower_rate(tmp_path: Path) -> None:
    time = np.arange(RATE * 3 // 2) / RATE
    wave = 0.3 * np.sin(2 * np.pi * 997 * time) + 0.2 * np.sin(2 * np.pi * 7001 * time)
    data = np.stack([wave, wave * 0.9], axis=1)
    encode = Encode(codec="flac", max_sample_rate_hz=NEW, max_bits_per_sample=24)
    plays = Plays(codec="flac", max_sample_rate_hz=NEW)
    place = Place(tmp_path, Profile(name="p", plays=(plays,), encode=encode))
    cuts = (0, RATE // 2 + 7, RATE + 12, len(data))
    for number in (1, 2, 3):
        path = place.music / "a" / f"{number}.flac"
        path.parent.mkdir(parents=True, exist_ok=True)
        part = data[cuts[number - 1] : cuts[number]]
        soundfile.write(path, part, RATE, format="FLAC", subtype="PCM_24")
        work = "Piano Sonata No. 1 in F minor, Op. 2 No. 1"
        tag(
            path, composer="Ludwig van Beethoven", title=f"{work}: {'I' * number}. Allegro",
            artist="Ilse Torvald", album="Sonatas", tracknumber=str(number), genre="Classical",
        )  # fmt: skip
    place.new_card()
    outcome = place.update()
    assert outcome.pressed == 3
    files = sorted(path for path in place.card.rglob("*.flac"))
    parts = [soundfile.read(path, always_2d=True)[0] for path in files]
    joined = np.concatenate(parts)
    assert len(joined) == -(-len(data) * NEW // RATE)
    # Tones at the other rate are known without any resampler.
    time = np.arange(len(joined)) / NEW
    exact = 0.3 * np.sin(2 * np.pi * 997 * time) + 0.2 * np.sin(2 * np.pi * 7001 * time)
    error = np.abs(joined[1000:-1000, 0] - exact[1000:-1000])
    assert 20 * np.log10(error.max()) < -120
    # Another tag: nothing is pressed again.
    for path in sorted(place.music.rglob("*.flac")):
        tag(path, date="1999")
    assert place.update().pressed == 0
