/** What can be made of a shot: the service's formats, put together as a person asks for them. */

/**
 * @typedef {object} Kind
 * @property {string} label
 * @property {string} says
 * @property {[string, string][]} formats  format and its name
 * @property {boolean} pictures  its pictures can be framed and corrected
 *
 * @typedef {{id: string, label: string, says: string}} Format  as the service tells it
 */

/** @type {Record<string, Kind>} */
const KINDS = {
  everywhere: { label: "Film for everywhere", says: "MP4, H.264: plays on anything", formats: [["h264", "H.264"]], pictures: true },
  small: { label: "Small modern film", says: "MP4: half the size, for recent devices", formats: [["hevc", "HEVC"], ["av1", "AV1"]], pictures: true },
  editing: { label: "Film for editing", says: "MOV, ProRes 422 HQ, 10 bit: large", formats: [["prores", "ProRes"]], pictures: true },
  web: { label: "Film for a web page", says: "WebM, VP9", formats: [["webm", "WebM"]], pictures: true },
  animation: { label: "Animation", says: "Plays by itself, without sound", formats: [["webp", "WebP"], ["gif", "GIF"]], pictures: true },
  pictures: { label: "Pictures", says: "One file for each frame, in a ZIP", formats: [["png", "PNG"], ["tiff", "TIFF, 16 bit"], ["originals", "Originals"]], pictures: true },
  cuts: { label: "Cut list", says: "OpenTimelineIO: points at the originals", formats: [["otio", "OTIO"]], pictures: false },
  sheet: { label: "Exposure sheet", says: "CSV: a table to open anywhere", formats: [["csv", "CSV"]], pictures: false },
};

const GROUPED = new Set(Object.values(KINDS).flatMap((kind) => kind.formats.map(([id]) => id)));

/** The kinds, with one more for each format that belongs to none of them. @param {Format[]} formats */
export function kindsFrom(formats) {
  const alone = formats.filter(({ id }) => !GROUPED.has(id)).map(({ id, label, says }) => [id, { label, says, formats: [[id, label]], pictures: true }]);
  return /** @type {Record<string, Kind>} */ ({ ...KINDS, ...Object.fromEntries(alone) });
}
