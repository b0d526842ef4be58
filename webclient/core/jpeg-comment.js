/** The first comment segment of a JPEG (FF FE, ITU-T T.81 B.2.4.5), right after its start marker. */

/**
 * @param {ArrayBuffer} bytes
 * @returns {string | null} its text, or null when there is none or the picture is cut
 */
export function readComment(bytes) {
  if (bytes.byteLength < 6) return null;
  const view = new DataView(bytes);
  if (view.getUint16(0) !== 0xffd8 || view.getUint16(2) !== 0xfffe) return null;
  const length = view.getUint16(4); // counts itself
  if (length < 2 || 4 + length > bytes.byteLength) return null;
  return new TextDecoder().decode(new Uint8Array(bytes, 6, length - 2));
}
