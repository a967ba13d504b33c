// Package sqlite keeps the ledger and its read tables in one SQLite file, and is the only
// place with SQL. It joins package reprocess (what happens) and package ledger (how it is
// kept):
//
//	Request -> load what the command needs -> reprocess.Decide -> entry -> reprocess.Apply
//	        -> entry, hashes, kit chain, key, read tables in one transaction -> commit -> answer
//
// One goroutine owns the only writing connection. Waiting requests are decided one after the
// other and committed together; each is answered after the commit is on the disk. Readers use
// a second, query-only handle and never wait for the writer.
//
// Entries are the truth. Every read table is a fold over them, and Verify recomputes each row
// from the entries alone; what cannot be recomputed is a closed list with reasons.
//
// A data folder:
//
//	lock          held by the server that may write
//	ledger.db     entries, hashes, read tables, sign-in
//	wearers.db    links from random tokens to wearer references
//	files/        recordings, pictures, documents by hash; checkpoints/ by size
//	secrets/      pepper, signing key, origin: outside the backups of the databases
package sqlite
