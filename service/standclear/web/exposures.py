"""`/shots/{shot}/exposures`: capture, list, change, bin, restore."""

import time
import uuid
from collections.abc import Sequence
from typing import Any

from apiflask import APIBlueprint
from flask import Response
from pydantic import Field

from standclear.errors import CallerError
from standclear.shooting import describe
from standclear.shooting.shutter import Press
from standclear.web.context import context, library, stage
from standclear.web.etags import if_revision, with_revision
from standclear.web.models import ExposureOut, ExposuresOut, In
from standclear.web.once import Claim
from standclear.web.shots import PageQuery

MOST_AT_ONCE = 100
MOST_HOLD = 10_000


class PressTooLate(CallerError):
    """The press was on its way for so long that its time has passed."""

    code = "press_too_late"
    status = 409
    title = "The press came too late and was not carried out"
    hint = "Look at the set, then press again."


class PressIn(In):
    """One press. All members may be left out."""

    count: int = Field(default=1, ge=1, le=MOST_AT_ONCE, description="How many exposures.")
    hold: int | None = Field(default=None, ge=1, le=MOST_HOLD, description="Frames each is held.")
    insert_after: str | None = Field(
        default=None, max_length=64, description='An exposure\'s id, or "start".'
    )
    replaces: str | None = Field(default=None, max_length=64, description="The one to retake.")
    press: str | None = Field(
        default=None, min_length=1, max_length=64, description="An id that the events carry."
    )
    not_after_ms: int | None = Field(
        default=None, ge=0, description="Service time in ms since 1970 after which it is void."
    )


class ExposureChange(In):
    """What to change; what is left out stays."""

    hold: int | None = Field(default=None, ge=1, le=MOST_HOLD)
    note: str | None = Field(default=None, max_length=2000)


pages = APIBlueprint("exposures", __name__, tag="exposures")


def tell_edited(shot_id: str, exposure_id: str) -> None:
    shot = describe.shot(library().shot(shot_id))
    stage().events.publish("edited", {"shot": shot, "exposures": [exposure_id]})


@pages.post("/shots/<shot_id>/exposures")
@pages.input(PressIn, arg_name="body")
@pages.output(ExposuresOut, status_code=201)
def press(shot_id: str, body: PressIn) -> Any:
    """Press the shutter: 201 when the exposures are kept."""
    refuse_if_late(body.not_after_ms)

    def perform(claim: Claim | None, kept: Sequence[str]) -> tuple[dict[str, Any], int]:
        done = [library().exposure(shot_id, one) for one in kept]
        if len(done) < body.count:
            done += stage().shutter.press(pressed(shot_id, body, claim, kept))
        return {"items": [describe.exposure(one) for one in done], "next": None}, 201

    return context().once.capture(perform)


@pages.get("/shots/<shot_id>/exposures")
@pages.input(PageQuery, location="query", arg_name="query")
@pages.output(ExposuresOut)
def list_exposures(shot_id: str, query: PageQuery) -> Any:
    """The shot's exposures in order, paged."""
    page = library().exposures(shot_id, after=query.after, limit=query.limit)
    return {"items": [describe.exposure(one) for one in page.items], "next": page.next}


@pages.get("/shots/<shot_id>/exposures/<exposure_id>")
@pages.output(ExposureOut)
def get_exposure(shot_id: str, exposure_id: str) -> Any:
    """One exposure."""
    return with_revision(describe.exposure(library().exposure(shot_id, exposure_id)))


@pages.patch("/shots/<shot_id>/exposures/<exposure_id>")
@pages.input(ExposureChange, arg_name="body")
@pages.output(ExposureOut)
def change_exposure(shot_id: str, exposure_id: str, body: ExposureChange) -> Any:
    """Change hold or note."""
    exposure = library().change_exposure(
        shot_id, exposure_id, hold=body.hold, note=body.note, if_revision=if_revision()
    )
    tell_edited(shot_id, exposure_id)
    return with_revision(describe.exposure(exposure))


@pages.delete("/shots/<shot_id>/exposures/<exposure_id>")
@pages.output({}, status_code=204)
def bin_exposure(shot_id: str, exposure_id: str) -> Any:
    """Move the exposure to the bin; nothing is removed."""
    library().bin_exposure(shot_id, exposure_id, if_revision=if_revision())
    stage().watches.forget(shot_id, exposure_id)
    tell_edited(shot_id, exposure_id)
    return Response(status=204)


@pages.post("/shots/<shot_id>/exposures/<exposure_id>/accept")
@pages.output(ExposureOut)
def accept_exposure(shot_id: str, exposure_id: str) -> Any:
    """The change that was flagged is meant: from here on this exposure is the reference."""
    return with_revision(describe.exposure(stage().watches.accept(shot_id, exposure_id)))


@pages.post("/shots/<shot_id>/exposures/<exposure_id>/restore")
@pages.output(ExposureOut)
def restore_exposure(shot_id: str, exposure_id: str) -> Any:
    """Take the exposure out of the bin, to where it was."""
    exposure = library().restore_exposure(shot_id, exposure_id)
    stage().watches.changed(shot_id)
    tell_edited(shot_id, exposure_id)
    return with_revision(describe.exposure(exposure))


def refuse_if_late(not_after_ms: int | None) -> None:
    """A press that was stuck in the network is not fired behind the animator's back."""
    if not_after_ms is not None and time.time() * 1000 > not_after_ms:
        raise PressTooLate("The press arrived after its time; nothing was taken.")


def pressed(shot_id: str, body: PressIn, claim: Claim | None, kept: Sequence[str]) -> Press:
    """The press that is left to do when ``kept`` is there already."""
    return Press(
        shot=shot_id,
        count=body.count - len(kept),
        hold=body.hold,
        insert_after=kept[-1]
        if kept and (body.insert_after or body.replaces)
        else body.insert_after,
        replaces=None if kept else body.replaces,
        receipt=None if claim is None else claim.key,
        fingerprint="" if claim is None else claim.fingerprint,
        id=body.press or uuid.uuid4().hex,
    )
