package journal

import (
	"bytes"
	_ "embed"
	"fmt"
	"slices"

	"github.com/klauspost/compress/s2"
)

// What the first byte of a payload says of its form. JSON begins with a brace
// and stands as it is.
const packed1 = 1 // S2 block with the dictionary of version 4

// packOver is the length from which payloads are packed, in bytes: shorter ones
// hardly shrink.
const packOver = 24

// dictionary1 is what packed payloads refer to: a history of invented events in
// their JSON. It is part of the file format and never changes.
//
//go:embed payload1.dict
var dictionary1 []byte

// A dictionary may be used by several at a time.
var packing = s2.MakeDict(dictionary1, nil)

// pack brings the JSON of a payload into the form that is encrypted, in bytes of
// its own.
func pack(plain []byte) []byte {
	if len(plain) < packOver {
		return bytes.Clone(plain)
	}
	w := scratch.Get().(*jsonOut)
	defer scratch.Put(w)
	most := 1 + s2.MaxEncodedLen(len(plain))
	w.b = append(slices.Grow(w.b[:0], most), packed1)
	if n := len(packing.Encode(w.b[1:most], plain)); 1+n < len(plain) {
		return bytes.Clone(w.b[:1+n])
	}
	return bytes.Clone(plain)
}

// unpack gives the JSON back.
func unpack(b []byte) ([]byte, error) {
	if len(b) == 0 || b[0] != packed1 {
		return b, nil
	}
	// The encryption vouches for the length that the block claims.
	plain, err := packing.Decode(nil, b[1:])
	if err != nil {
		return nil, fmt.Errorf("unpack: %w", err)
	}
	return plain, nil
}
