package journal

import (
	_ "embed"
	"fmt"

	"github.com/klauspost/compress/zstd"
)

// What the first byte of a payload says of its form. JSON begins with a brace
// and stands as it is.
const packed1 = 1 // Zstandard frame (RFC 8878) with the dictionary of version 4

// packOver is the length from which payloads are packed, in bytes: shorter ones
// hardly shrink.
const packOver = 24

// mostPayload bounds what a payload may unpack to, in bytes.
const mostPayload = 64 << 20

// dictionary1 is what packed payloads refer to: a history of invented events in
// their JSON. It is part of the file format and never changes.
//
//go:embed payload1.dict
var dictionary1 []byte

const dictionary1ID = 1

var packer, unpacker = func() (*zstd.Encoder, *zstd.Decoder) {
	// One encoder and decoder at a time: there is one writer, and what reads
	// takes turns for a microsecond. The payload's own check is the encryption.
	w, err := zstd.NewWriter(nil, zstd.WithEncoderDictRaw(dictionary1ID, dictionary1), zstd.WithEncoderLevel(zstd.SpeedFastest),
		zstd.WithEncoderCRC(false), zstd.WithSingleSegment(true), zstd.WithEncoderConcurrency(2))
	if err != nil {
		panic(fmt.Sprintf("packing of payloads: %v", err)) // the options are constants
	}
	r, err := zstd.NewReader(nil, zstd.WithDecoderDictRaw(dictionary1ID, dictionary1), zstd.WithDecoderConcurrency(0),
		zstd.WithDecoderMaxMemory(mostPayload))
	if err != nil {
		panic(fmt.Sprintf("unpacking of payloads: %v", err))
	}
	return w, r
}()

// pack brings the JSON of a payload into the form that is encrypted.
func pack(plain []byte) []byte {
	if len(plain) < packOver {
		return plain
	}
	b := packer.EncodeAll(plain, append(make([]byte, 0, 64+len(plain)/4), packed1))
	if len(b) >= len(plain) {
		return plain
	}
	return b
}

// unpack gives the JSON back.
func unpack(b []byte) ([]byte, error) {
	if len(b) == 0 || b[0] != packed1 {
		return b, nil
	}
	return unpacker.DecodeAll(b[1:], nil)
}
