"""What can go wrong between a shot and its film, each with a sentence that says what to do."""

from standclear.errors import Conflict, Invalid, StorageError


class CannotExport(Invalid):
    """The shot or the options do not give a film (nothing to show, a range outside the shot)."""

    code = "cannot_export"
    title = "This film cannot be made"
    hint = "Change the options as the detail says."


class PictureUnreadable(CannotExport):
    """An original does not decode, or decodes with damage."""

    code = "picture_unreadable"
    title = "A picture cannot be read"
    hint = "Copy the original back from a safe place, or leave the exposure out."


class SoundUnreadable(CannotExport):
    """The sound file holds no sound that can be decoded."""

    code = "sound_unreadable"
    title = "The sound file cannot be read"
    hint = "Use a WAV, FLAC, MP3 or AAC file."


class ExportCancelled(Conflict):
    """Somebody cancelled the export; nothing stands under the final name."""

    code = "export_cancelled"
    title = "The export was cancelled"
    hint = "Start it again when you want the film."


class TargetError(StorageError):
    """The folder or disk that should take the film refuses it."""

    code = "target_unwritable"
    title = "The film could not be written"
    hint = "Free some space or choose another folder, then export again."
