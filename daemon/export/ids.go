package export

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"strconv"

	"stepgate/daemon/journal"
)

// idOf makes the ids of one patient's resources: UUIDs of version 8 (RFC 9562,
// 5.8), the first 16 bytes of an HMAC-SHA-256 over what the resource is. The
// key comes from the journal, so two clinics whose patients have the same id
// never share one, and an export next year has the same ids as today's. The
// instant of the enrollment is in it: an id given anew after somebody was
// erased stands for somebody else.
type idOf struct{ key []byte }

func idsOf(tx *journal.Tx, id string, p *journal.Person) idOf {
	// The 0 keeps it apart from the hashes of contacts, none of which begins with one.
	return idOf{tx.ContactHash("\x00export\x00" + strconv.FormatInt(p.Since.UnixNano(), 10) + "\x00" + id)}
}

// system names the clinic's own enrollment ids, for Identifier.system.
func system(tx *journal.Tx) string { return "urn:uuid:" + uuid(tx.ContactHash("\x00export\x00")) }

// of is the id of a resource: its kind and what tells it from others of it.
func (x idOf) of(kind, key string) string {
	h := hmac.New(sha256.New, x.key)
	h.Write([]byte(kind + "\x00" + key))
	return uuid(h.Sum(nil))
}

func uuid(sum []byte) string {
	b := [16]byte(sum[:16])
	b[6] = b[6]&0x0f | 0x80 // version 8
	b[8] = b[8]&0x3f | 0x80 // variant 10
	s := hex.EncodeToString(b[:])
	return s[:8] + "-" + s[8:12] + "-" + s[12:16] + "-" + s[16:20] + "-" + s[20:]
}
