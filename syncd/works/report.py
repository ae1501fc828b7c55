"""An identity as JSON and as lines for a person. Nothing is decided here."""

from syncd.model import Identity


def to_json(path: str, identity: Identity) -> dict[str, object]:
    """The object that ``syncd identify --json`` prints for the file at *path*."""
    composer, work, movement = identity.composer, identity.work, identity.movement
    return {
        "path": path,
        "kind": identity.kind.value,
        "composer": {"name": composer.name, "sort": composer.sort} if composer else None,
        "work": (
            {"title": work.title, "catalogue": list(work.catalogue), "key": work.key}
            if work
            else None
        ),
        "recording": identity.recording,
        "movement": {"number": movement.number, "title": movement.title} if movement else None,
        "credits": [
            {"name": credit.name, "role": credit.role, "instrument": credit.instrument}
            for credit in identity.credits
        ],
        "artist": identity.artist,
        "album": identity.album,
        "confidence": identity.confidence,
        "reasons": list(identity.reasons),
    }


def explain(identity: Identity) -> list[str]:
    """Lines that tell a person how a track is catalogued, how surely, and why."""
    lines: list[str] = []
    if identity.kind.value != "work":
        lines.append("Popular" if identity.kind.value == "popular" else "Not recognised")
        if identity.artist:
            lines.append(f"Artist:     {identity.artist}")
        if identity.album:
            lines.append(f"Album:      {identity.album}")
    else:
        lines.append(f"Composer:   {identity.composer.sort if identity.composer else 'not told'}")
        work = identity.work
        if work is not None:
            facts = ", ".join(part for part in (work.title, *work.catalogue) if part)
            lines.append(f"Work:       {facts}" + (f" ({work.key})" if work.key else ""))
        else:
            lines.append("Work:       not told")
        movement = identity.movement
        if movement is not None:
            number = f"{movement.number}. " if movement.number is not None else ""
            lines.append(f"Movement:   {number}{movement.title or ''}".rstrip())
        for credit in identity.credits:
            role = credit.instrument or credit.role
            lines.append(f"{role.capitalize() + ':':<11} {credit.name}")
    lines.append(f"Confidence: {identity.confidence:.2f}")
    lines.extend(f"  because {reason}" for reason in identity.reasons)
    return lines
