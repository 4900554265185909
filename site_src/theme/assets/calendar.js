// Days of a plan, and its dates as a calendar file (iCalendar, RFC 5545). Days are texts such as 2026-09-14, counted
// without hours and zones: a due date is the same everywhere. Nothing here touches the page: tests run it as it is.
(() => {
  "use strict";
  const DAY = 86400000;
  const LINE = 75;

  const added = (day, count) => new Date(Date.parse(`${day}T00:00:00Z`) + count * DAY).toISOString().slice(0, 10);

  /** The same day a year later; the last of February, where that year has no 29th. */
  const yearAfter = (day) => {
    const later = `${Number(day.slice(0, 4)) + 1}${day.slice(4)}`;
    return later.endsWith("-02-29") ? later.replace(/29$/, "28") : later;
  };

  /** First and last day of each stage, one after the other from the start. */
  const planned = (start, stages) => {
    let from = start;
    return stages.map(({ id, days }) => {
      const told = { id, from, due: added(from, days - 1) };
      from = added(from, days);
      return told;
    });
  };

  // A text in a calendar file, and its lines: at most 75 octets, no sign parted.

  const escaped = (text) => text.replace(/[\\;,]/g, "\\$&").replace(/\r?\n|\r/g, "\\n").replace(/[\u0000-\u001f\u007f]/g, "");

  const parted = (line) => {
    const lines = [""];
    let left = LINE;
    Array.from(line).forEach((sign) => {
      const size = new TextEncoder().encode(sign).length;
      if (size > left) {
        lines.push(" ");
        left = LINE - 1;
      }
      lines[lines.length - 1] += sign;
      left -= size;
    });
    return lines.join("\r\n");
  };

  /**
   * A calendar file of whole days.
   * @param {{id: string, on: string, title: string, told: string, yearly?: boolean}[]} events ids differ, and stay the
   *   same when the file is made again: a calendar then puts the new day in place of the old one
   * @param {string} now when the file is made, as 2026-09-14T08:00:00Z
   */
  const file = (events, now) => {
    const stamp = `${now.slice(0, 19).replace(/[-:]/g, "")}Z`;
    const basic = (day) => day.replace(/-/g, "");
    const lines = events.flatMap(({ id, on, title, told, yearly }) => [
      "BEGIN:VEVENT", `UID:${escaped(id)}`, `DTSTAMP:${stamp}`, `DTSTART;VALUE=DATE:${basic(on)}`,
      `DTEND;VALUE=DATE:${basic(added(on, 1))}`, ...(yearly ? ["RRULE:FREQ=YEARLY"] : []),
      `SUMMARY:${escaped(title)}`, `DESCRIPTION:${escaped(told)}`, "TRANSP:TRANSPARENT", "END:VEVENT",
    ]);
    const all = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Learning plan//EN", "CALSCALE:GREGORIAN", ...lines, "END:VCALENDAR"];
    return all.map((line) => `${parted(line)}\r\n`).join("");
  };

  Object.assign(window.alarmtrees, { Calendar: { added, yearAfter, planned, file } });
})();
