// What the page of the receiver says: names and lessons of the ranges of a frame, why one was not taken, what to do.
import { t } from "../words/words.svelte";
import type { FrameFault, FrameRow, Lesson, Range } from "./live.svelte";

/** Why a frame was not taken, with its figures. */
export function why(fault: FrameFault, row: FrameRow): string {
  const account = row.account ?? "";
  const [got, want] = [fault.got ?? "", fault.want ?? ""];
  switch (fault.cause) {
    case "garbage":
      return t("{n} bytes that belong to no frame.", { n: row.bytes });
    case "truncated":
      return t("The frame ends before it is complete.");
    case "too long":
      return t("The frame is longer than the 4105 bytes that DC-09 allows.");
    case "not hex":
      return t("Four digits 0-9 and A-F in capitals belong here. This came: {got}", { got });
    case "checksum":
      return t("The checksum says {got}. Over the bytes that came it is {want}.", { got, want });
    case "length":
      return t("The length says {got}. The body that came has {want}.", { got, want });
    case "syntax":
      return want
        ? t("This came: {got}. Expected: {want}.", { got, want: want })
        : t("Something stands here that DC-09 does not have.");
    case "unknown id":
      return replies.has(got)
        ? t("{got} is a reply, and nobody here had asked.", { got })
        : t("The kind {got} is not one that is read here.", { got });
    case "payload":
      return t("The data does not follow its format. Expected: {want}.", { want: want });
    case "encrypted":
      return t("The frame for account {account} is encrypted, and no key is kept here for it.", { account });
    case "time stamp":
      return t("An encrypted frame must carry a time near the receiver's. This one carries: {got}", {
        got: got || t("none"),
      });
    case "does not decrypt":
      return t("The frame for account {account} does not decrypt: the key or its mode differs.", { account });
    case "not encrypted":
      return t("Account {account} is set to encrypted only, and this frame came in clear.", { account });
    default:
      return fault.say;
  }
}

const replies = new Set(["ACK", "NAK", "DUH", "RSP"]);

/** What to look at and what to do. */
export function remedy(fault: FrameFault, row: FrameRow): string {
  switch (fault.cause) {
    case "garbage":
      return t(
        "A frame begins with a line feed and ends with a carriage return. Is the panel set to another format, or does it wrap the line in TLS?",
      );
    case "truncated":
      return t("Was the connection cut? Does the panel end its frames with a carriage return?");
    case "too long":
      return t("Is the length set right, and does each frame end with a carriage return?");
    case "not hex":
      return t("Checksum and length are written in capitals. Nothing is answered.");
    case "checksum":
      return t(
        "Nothing is answered to a wrong checksum (DC-09-2007, C.2.3.5): the panel repeats. Now and then: a disturbance on the way. Always: the panel counts over other bytes or with another polynomial.",
      );
    case "length":
      return t(
        "Nothing is answered. The length counts in hexadecimal from the first quotation mark to the byte before the end.",
      );
    case "syntax":
      return t("Nothing is answered. Compare with the frame below.");
    case "unknown id":
      return replies.has(fault.got ?? "")
        ? t("Replies are never answered, so that no two receivers talk for ever. Does another receiver send here?")
        : t("Set the panel to SIA-DCS or ADM-CID.");
    case "payload":
      return t("The frame is sound, its content is not. Is the right format set for this account at the panel?");
    case "encrypted":
      return t("Enter the key in the job: Hand over, Account, going live. Or let the panel send in clear.");
    case "time stamp":
      return t(
        "At most 40 s behind and 20 s ahead of the receiver's clock (figures unconfirmed). The answer NAK carries the right time: the panel takes the difference and sends again. If it does not, set its clock; it counts in UTC.",
      );
    case "does not decrypt":
      return t(
        "Compare the key at the panel with the key of the job, digit by digit: typed as hexadecimal or as text? 16, 24 or 32 bytes? AES in CBC mode, vector zero.",
      );
    case "not encrypted":
      return t("Switch encryption on at the panel, or let the job take frames in clear as well.");
    default:
      return row.state === "damaged" ? t("Nothing is answered.") : "";
  }
}

/** Why a sound frame got no answer. */
export function silence(row: FrameRow): string {
  const account = row.account ?? "";
  switch (row.silence) {
    case "no-account":
      return t("It names no account.");
    case "no-job":
      return t("No job here has account {account}.", { account });
    case "no-run":
      return t("Account {account} has no open proving run.", { account });
    case "beside":
      return t("Account {account} is that of a job in earnest too: its signals are not answered for practice.", {
        account,
      });
    case "not-on-test":
      return t("Account {account} is not on test.", { account });
    case "spooled":
      return t("Too much waits for the database: nothing is answered until it is reached again.");
    default:
      return "";
  }
}

/** The name of a range. */
export function name(range: Range): string {
  switch (range.element) {
    case "start":
      return t("Start");
    case "crc":
      return t("Checksum");
    case "length":
      return t("Length");
    case "id":
      return t("Kind of frame");
    case "sequence":
      return t("Number");
    case "receiver":
      return t("Receiver");
    case "prefix":
      return t("Prefix");
    case "account":
      return t("Account");
    case "data":
      return t("Data");
    case "data-account":
      return t("Account, again");
    case "bar":
      return t("Bar");
    case "cid-qualifier":
      return t("Begins or ends");
    case "cid-code":
    case "sia-code":
      return t("Event");
    case "cid-area":
      return t("Area");
    case "cid-number":
    case "sia-address":
      return range.words === "user"
        ? t("User")
        : range.words === "none" || !range.words
          ? t("Figure")
          : t("Zone or point");
    case "sia-function":
      return t("New or old");
    case "sia-modifier":
      return t("Modifier");
    case "sia-text":
      return t("Text");
    case "data-end":
      return t("End of the data");
    case "field":
      return t("Field {letter}", { letter: range.words ?? "" });
    case "timestamp":
      return t("Time");
    case "cipher":
      return t("Encrypted");
    case "pad":
      return t("Pad");
    default:
      return t("End");
  }
}

/** What a range is there for, and what this one says. */
export function teach(range: Range, lesson: Lesson): string {
  const { got = "", want = "", words = "", number: n = 0 } = range;
  switch (range.element) {
    case "start":
      return range.bad
        ? t("No frame begins here: these bytes were passed over.")
        : t("A line feed. What comes before it is passed over.");
    case "crc":
      return got === want
        ? t(
            "A CRC of 16 bits over the body: from the first quotation mark to the byte before the end. {got} came, {want} is computed: they agree.",
            { got, want },
          )
        : t(
            "A CRC of 16 bits over the body: from the first quotation mark to the byte before the end. {got} came, {want} is computed: they differ.",
            { got, want },
          );
    case "length":
      return got === want
        ? t("A zero and three hexadecimal digits: how long the body is. {got} is {n}, and {n} bytes came.", { got, n })
        : t(
            "A zero and three hexadecimal digits: how long the body is. {got} came; the body has {n} bytes, which is {want}.",
            { got, want, n },
          );
    case "id":
      return kind(words);
    case "sequence":
      return n === 0
        ? t("Supervision and NAK carry 0000. The reply carries the same.")
        : t("Message {n}. The reply carries the same number, and so does a repeat; after 9999 comes 0001.", { n });
    case "receiver":
      return t("A receiver that the panel means. May be left out; the reply repeats it.");
    case "prefix":
      return t("A prefix of the account, L0 where there is none. The reply repeats it.");
    case "account":
      return t(
        "1 to 16 hexadecimal digits behind #. It decides whether anything is answered: only what is on test is.",
      );
    case "data":
      return range.bad
        ? t("What is reported, between brackets. This can not be read.")
        : t("What is reported, between brackets. There is nothing to report.");
    case "data-account":
      return t("The account once more, as the payload has it. It may be left out here.");
    case "bar":
      return t("Parts the account from what is reported, and one block from the next.");
    case "cid-qualifier":
      return t("1: new, or disarmed. 3: restored, or armed. 6: still there.");
    case "cid-code":
    case "sia-code":
      return words
        ? t("This code: {words}.", { words })
        : t("A code that is not in our lists. It is kept and answered all the same.");
    case "cid-area":
      return t("Area of the panel, two digits. 00: none.");
    case "cid-number":
      return t("Zone or user, three digits: which one it is follows from the code. 000: none.");
    case "sia-address":
      return t("Zone, point or user: which one it is follows from the code.");
    case "sia-function":
      return words === "O" ? t("O: this happened earlier.") : t("N: new events follow.");
    case "sia-modifier":
      return modifier(words);
    case "sia-text":
      return t("Free text for a person.");
    case "data-end":
      return t("A closing bracket. Fields in brackets of their own and a time may follow.");
    case "field":
      return range.hidden
        ? t("May carry a key or a code: only its letter is shown.")
        : t("Additional field: {what}.", { what: field(words) });
    case "timestamp":
      return words
        ? t(
            "Sent on {time} UTC, written with the month before the day. A frame in clear may leave it out; an encrypted one must have it.",
            { time: words },
          )
        : t("A time that can not be read. In a frame in clear that does no harm.");
    case "cipher":
      return lesson.inside
        ? t(
            "{n} bytes, each as two hexadecimal digits: AES in CBC mode in blocks of 16. What stands inside is shown below.",
            { n },
          )
        : t(
            "{n} bytes, each as two hexadecimal digits: AES in CBC mode in blocks of 16. They were not decrypted here.",
            { n },
          );
    case "pad":
      return t(
        "{n} bytes of no meaning stand in front, so that the whole is a multiple of 16. They change with every frame and are not kept.",
        { n },
      );
    default:
      return range.bad
        ? t("The frame is not complete here, or something stands where nothing may.")
        : t("A carriage return: the frame ends.");
  }
}

function kind(words: string): string {
  const plain = words.replace("*", "");
  const says = (() => {
    switch (plain) {
      case "SIA-DCS":
        return t("SIA event codes follow.");
      case "ADM-CID":
        return t("Contact ID follows.");
      case "NULL":
        return t("Nothing to report: it shows that the line is up, and proves no alarm.");
      case "ACK":
        return t("Reply: received and stored.");
      case "NAK":
        return t("Reply: the time was not accepted. It carries the receiver's.");
      case "DUH":
        return t("Reply: it can not be processed. The panel does not send it again.");
      case "RSP":
        return t("Reply that carries something back. It is never acted on here.");
      default:
        return t("Not a kind that is read here. These are: SIA-DCS, ADM-CID, NULL.");
    }
  })();
  return plain === words ? says : `${says} ${t("The asterisk says: encrypted behind the bracket.")}`;
}

function modifier(words: string): string {
  switch (words) {
    case "ri":
      return t("ri: the area of the events behind it.");
    case "ti":
      return t("ti: the time at which it happened.");
    case "da":
      return t("da: the day on which it happened.");
    case "id":
      return t("id: the user of the events behind it.");
    case "pi":
      return t("pi: the part of the panel that reports it.");
    default:
      return t("Holds for the events behind it, until another replaces it.");
  }
}

function field(letter: string): string {
  switch (letter) {
    case "A":
      return t("authentication hash");
    case "C":
      return t("supervision category and number of paths");
    case "H":
      return t("when it happened");
    case "I":
      return t("text of the alarm");
    case "J":
      return t("path used");
    case "L":
      return t("place on the site");
    case "M":
      return t("hardware address");
    case "N":
      return t("network address");
    case "O":
      return t("name of the building");
    case "R":
      return t("room");
    case "S":
      return t("name of the site");
    case "T":
      return t("what triggered the alarm");
    case "V":
      return t("where audio or video is found; it is never fetched by itself");
    case "X":
      return t("longitude");
    case "Y":
      return t("latitude");
    case "Z":
      return t("altitude");
    default:
      return t("a letter that is not known here, kept as it came");
  }
}

const clauses: Record<string, string> = {
  crc: "DC-09-2007, 5.5.1.2",
  length: "DC-09-2007, 5.5.1.3",
  id: "DC-09-2007, 5.5.1.4",
  sequence: "DC-09-2007, 5.5.1.5",
  receiver: "DC-09-2007, C.2.3.8",
  prefix: "DC-09-2007, 5.5.1.6",
  account: "DC-09-2007, C.2.3.8",
  data: "DC-09-2007, 5.5.1.7",
  "data-account": "DC-09-2007, 5.5.1.7",
  "cid-qualifier": "DC-05",
  "cid-code": "DC-05",
  "cid-area": "DC-05",
  "cid-number": "DC-05",
  "sia-function": "DC-03",
  "sia-modifier": "DC-03",
  "sia-code": "DC-03",
  "sia-address": "DC-03",
  "sia-text": "DC-03",
  timestamp: "DC-09-2007, 5.5.1.8",
  cipher: "DC-09-2013, 5.4.4.1",
  pad: "DC-09-2013, 5.4.4.2",
};

/** Where the standard has it; empty where we do not know. */
export function clause(range: Range): string {
  if (range.element === "id" && range.words?.endsWith("NULL")) return "DC-09-2013, 5.5.2.1";
  return clauses[range.element] ?? "";
}

/** What was answered, or why nothing was. */
export function answered(lesson: Lesson): string {
  switch (lesson.state) {
    case "answered":
      return t("It was stored, then acknowledged: the account is on test, or this is a practice job.");
    case "refused":
      return lesson.reply?.some(({ element, words }) => element === "id" && words === "NAK")
        ? t("NAK, with the receiver's time (DC-09-2013, 5.5.3.2).")
        : t(
            "DUH: it can not be processed (DC-09-2013, 5.5.3.3). The panel does not repeat it and shows a fault (DC-09-2007, C.1.3.14).",
          );
    case "silent":
      return t(
        "Nothing. It was stored and shown, and the panel goes on to its next path: outside of a test nobody watches here.",
      );
    case "not-stored":
      return t("Nothing, because it could not be stored. The panel repeats it.");
    default:
      return t("Nothing. What is damaged is not answered: the panel repeats it.");
  }
}
