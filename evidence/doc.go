// Package evidence is the job book: append-only entries in a hash chain, the parts of them that can be erased, signed
// heads, and the export file that a third party can verify without trusting us.
//
// A client seals a [Content] (its hash is fixed offline); the server gives it a place with [Append]. [CheckChain]
// checks entries in memory, [Verify] an export file, and both name the first break as a [*Break]. Personal data goes
// through [SealPrivate] and [SealBlob]: when the job's key is destroyed the chain still verifies and the data is gone.
//
// The format is written down in docs/format/job-book.md. Hashes are taken over RFC 8785 canonical JSON, see [Canonical].
//
// The package reads no clock, random source, file or network: times and readers are arguments. Its functions are safe
// for concurrent use; a [Chain] and an [ExportReader] belong to one goroutine.
package evidence
