/**
 * The shapes that the service speaks, as its OpenAPI document has them.
 *
 * @typedef {object} Shot
 * @property {string} id
 * @property {string} name
 * @property {string} frame_rate  a rational as text: "12", "24000/1001"
 * @property {string} notes
 * @property {number} exposure_count
 * @property {number} frame_count
 * @property {string} created_at
 * @property {number} revision
 * @property {boolean} can_undo
 * @property {boolean} can_redo
 * @property {string} undo_says
 * @property {string} redo_says
 *
 * @typedef {object} Original
 * @property {string} url
 * @property {string} media_type
 * @property {number} size  bytes
 * @property {string} sha256
 * @property {number | null} width  px
 * @property {number | null} height  px
 *
 * @typedef {object} Watch
 * @property {"clear" | "flagged" | "cannot_tell"} state
 * @property {string} says
 * @property {Record<string, number>} [figures]  the unit in the name
 * @property {string[]} [causes]  plain names: "same_pose", …
 *
 * @typedef {object} Verdict
 * @property {"clear" | "flagged"} state
 * @property {Record<string, Watch>} watches
 * @property {boolean} [accepted]  the change was meant; the exposure is the reference from there on
 *
 * @typedef {object} Exposure
 * @property {string} id
 * @property {string} shot
 * @property {number | null} number  its place in the shot, from 1; null in the bin
 * @property {number} hold  frames
 * @property {string} note
 * @property {string} taken_at
 * @property {string} camera
 * @property {Record<string, string>} settings
 * @property {Original[]} originals
 * @property {string} preview
 * @property {Verdict | null} verdict
 * @property {Pair | null} [pair]  what came of a second camera
 * @property {number} revision
 *
 * @typedef {object} Pair
 * @property {string} camera
 * @property {number} from_file  the first original that is its
 * @property {number} spread_ms  between the two pictures
 *
 * @typedef {object} PlaybackFrame
 * @property {number} frame  from 1
 * @property {string} exposure
 * @property {number} number  the exposure's place, from 1
 * @property {string} preview
 *
 * @typedef {object} Playback
 * @property {string} frame_rate
 * @property {number} frame_count
 * @property {number} first
 * @property {PlaybackFrame[]} frames
 *
 * @typedef {object} Camera
 * @property {string} id
 * @property {string} kind
 * @property {string} label
 * @property {"ready" | "opening" | "exposing" | "away" | "hung"} state
 * @property {string} says
 * @property {string} since
 * @property {boolean} live
 * @property {string} live_says
 * @property {number | null} battery_percent
 * @property {number | null} free_pictures
 * @property {number | null} free_bytes
 * @property {string[]} [warnings]  sentences of the camera's own: battery, heat, turned
 *
 * @typedef {object} Mirror  the second copy
 * @property {string | null} where
 * @property {"off" | "in_step" | "copying" | "away" | "fault" | "paused"} state
 * @property {string} says
 * @property {number} waiting_exposures
 * @property {number} waiting_bytes
 * @property {number} lag_s  the age of the oldest exposure that waits
 * @property {number} copied_exposures
 * @property {string | null} last_copied_at
 * @property {string} caution  empty where there is none
 *
 * @typedef {object} ListedCamera
 * @property {string} id
 * @property {string} kind
 * @property {string} label
 * @property {boolean} in_use
 *
 * @typedef {object} Setting
 * @property {string} label
 * @property {string} value
 * @property {string[]} choices
 * @property {boolean | null} automatic
 * @property {boolean} writable
 * @property {number | null} minimum
 * @property {number | null} maximum
 * @property {number | null} step
 *
 * @typedef {"manual" | "self_timer" | "interval" | "step_back"} TriggerMode
 *
 * @typedef {object} Trigger
 * @property {TriggerMode} mode
 * @property {string | null} shot
 * @property {number | null} seconds
 * @property {"idle" | "counting" | "exposing"} phase
 * @property {number | null} [left_s]
 * @property {string} [says]  why it stopped by itself; in step_back what it waits for
 * @property {string} [state]  of the step-back trigger: "watching", "hands_in", "asking", …
 * @property {string} [cause]
 * @property {string} [mask]  what it sees: a grey PNG in base64
 * @property {boolean} [mute]  its states make no sound
 * @property {string | null} [eye]  the camera that watches, null for the one in use
 *
 * @typedef {object} ProblemBody
 * @property {string} title
 * @property {number} status
 * @property {string} [detail]
 * @property {string} [code]
 * @property {string} [hint]
 * @property {number | null} [line]  in a text that was sent, from 1
 * @property {number | null} [column]
 *
 * @typedef {object} PictureHeader  what travels in the comment segment of a live picture
 * @property {number} seq
 * @property {number} at_ms  service time at which the driver had the picture
 * @property {number} age_ms  its age when it was sent
 * @property {"live" | "last_exposure"} source
 */

/**
 * @template T
 * @typedef {{items: T[], next: string | null}} Page
 */

export {};
