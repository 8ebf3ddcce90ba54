package journal

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/fnv"
	"io"
	"os"
)

// What a page of bbolt's file format, version 2, is made of. bbolt trusts a
// page: a spoiled one makes it loop, or read where nothing is mapped. So a file
// that is verified is looked through here first, by reading it.
const (
	pageHeader   = 16 // uint64 id | uint16 flags | uint16 count | uint32 further pages
	pageElement  = 16
	branchPage   = 0x01
	leafPage     = 0x02
	metaPage     = 0x04
	freelistPage = 0x10
	bucketFlag   = 0x01 // of a leaf's element whose value is a bucket
	noFreelist   = ^uint64(0)
	metaMagic    = 0xED0CDAED
	maxPageSize  = 64 << 10
)

// pageFile is a database file that is looked through.
type pageFile struct {
	r     io.ReaderAt
	size  int64 // of a page
	end   uint64
	used  []bool // by number
	depth int
}

var native = binary.NativeEndian // bbolt writes as the machine does

// readPages checks how the pages of a database hang together: each is used
// once, or free, and holds keys in order and in bounds.
func readPages(r *os.File) error {
	info, err := r.Stat()
	if err != nil {
		return err
	}
	fileSize := info.Size()
	meta, err := newestMeta(r, fileSize)
	if err != nil {
		return err
	}
	root, freelist := native.Uint64(meta[16:]), native.Uint64(meta[32:])
	p := &pageFile{r: r, size: int64(native.Uint32(meta[8:])), end: native.Uint64(meta[40:])}
	if p.end > uint64(fileSize/p.size) {
		return fmt.Errorf("%w: the file is cut short: %d bytes for %d pages", ErrDamaged, fileSize, p.end)
	}
	p.used = make([]bool, p.end)
	p.used[0], p.used[1] = true, true
	if err := p.tree(root, nil, nil); err != nil {
		return err
	}
	return p.freelist(freelist)
}

// newestMeta returns the meta that bbolt would take: the newest that is whole.
func newestMeta(r io.ReaderAt, fileSize int64) ([]byte, error) {
	var newest []byte
	try := func(at int64) {
		b := make([]byte, pageHeader+64)
		if _, err := r.ReadAt(b, at); err != nil {
			return
		}
		m := b[pageHeader:]
		sum := fnv.New64a()
		_, _ = sum.Write(m[:56]) // never fails
		size := native.Uint32(m[8:])
		if native.Uint16(b[8:]) != metaPage || native.Uint32(m) != metaMagic || native.Uint32(m[4:]) != 2 ||
			sum.Sum64() != native.Uint64(m[56:]) || size < 512 || size > maxPageSize || at != 0 && at != int64(size) ||
			native.Uint64(m[40:]) < 3 {
			return
		}
		if newest == nil || native.Uint64(m[48:]) > native.Uint64(newest[48:]) {
			newest = m
		}
	}
	for at := int64(0); at <= maxPageSize && at < fileSize; at = max(512, at*2) {
		try(at)
	}
	if newest == nil {
		return nil, fmt.Errorf("%w: neither meta page is whole", ErrDamaged)
	}
	return newest, nil
}

func (p *pageFile) bad(id uint64, what string) error {
	return fmt.Errorf("%w: page %d %s", ErrDamaged, id, what)
}

// take reads a page with those that go on from it, and marks them as used.
func (p *pageFile) take(id uint64) ([]byte, error) {
	if id < 2 || id >= p.end {
		return nil, p.bad(id, "is not in the file")
	}
	head := make([]byte, pageHeader)
	if _, err := p.r.ReadAt(head, int64(id)*p.size); err != nil {
		return nil, fmt.Errorf("read page %d: %w", id, err)
	}
	n := uint64(native.Uint32(head[12:])) + 1
	if native.Uint64(head) != id || n > p.end-id {
		return nil, p.bad(id, "has another number, or ends behind the file")
	}
	for i := id; i < id+n; i++ {
		if p.used[i] {
			return nil, p.bad(i, "is used twice")
		}
		p.used[i] = true
	}
	b := make([]byte, int64(n)*p.size)
	if _, err := p.r.ReadAt(b, int64(id)*p.size); err != nil {
		return nil, fmt.Errorf("read page %d: %w", id, err)
	}
	return b, nil
}

// tree goes through a bucket from its root or one of its pages. Keys are at or
// above low and under high; nil: no bound.
func (p *pageFile) tree(id uint64, low, high []byte) error {
	b, err := p.take(id)
	if err != nil {
		return err
	}
	// Every page is used once, so this ends; and it does not go deep: a page has
	// at least two children, but for spoiled ones.
	if p.depth++; p.depth > 100 {
		return p.bad(id, "lies too deep")
	}
	defer func() { p.depth-- }()
	return p.elements(id, b, low, high)
}

// elements goes through what is on one page, or in a bucket kept in a value.
func (p *pageFile) elements(id uint64, b, low, high []byte) error {
	flags, count := native.Uint16(b[8:]), int(native.Uint16(b[10:]))
	if flags != branchPage && flags != leafPage {
		return p.bad(id, "is neither branch nor leaf")
	}
	if len(b) < pageHeader+count*pageElement || flags == branchPage && count == 0 {
		return p.bad(id, "has more elements than room, or none")
	}
	key := func(i int) (k, rest []byte, ok bool) {
		at := pageHeader + i*pageElement
		e := b[at:]
		pos, n := uint64(native.Uint32(e)), uint64(native.Uint32(e[4:]))
		if flags == leafPage {
			pos, n = uint64(native.Uint32(e[4:])), uint64(native.Uint32(e[8:]))
		}
		from := uint64(at) + pos
		if pos < pageElement || n > uint64(len(b)) || from+n > uint64(len(b)) {
			return nil, nil, false
		}
		return b[from : from+n], b[from+n:], true
	}
	var before []byte
	for i := range count {
		k, rest, ok := key(i)
		// The first key of a branch may lie above what is under it.
		if !ok || i > 0 && bytes.Compare(before, k) >= 0 || high != nil && bytes.Compare(k, high) >= 0 ||
			bytes.Compare(k, low) < 0 {
			return p.bad(id, "has a key out of bounds or out of order")
		}
		before = k
		if flags == leafPage {
			if err := p.value(id, b[pageHeader+i*pageElement:], rest); err != nil {
				return err
			}
			continue
		}
		below := high
		if i+1 < count {
			if below, _, ok = key(i + 1); !ok {
				return p.bad(id, "has a key out of bounds or out of order")
			}
		}
		from := k
		if i == 0 {
			from = low
		}
		if err := p.tree(native.Uint64(b[pageHeader+i*pageElement+8:]), from, below); err != nil {
			return err
		}
	}
	return nil
}

// value looks at a leaf's value, and into it if it is a bucket.
func (p *pageFile) value(id uint64, e, rest []byte) error {
	n := uint64(native.Uint32(e[12:]))
	if n > uint64(len(rest)) {
		return p.bad(id, "has a value out of bounds")
	}
	switch native.Uint32(e) {
	case 0:
		return nil
	case bucketFlag:
	default:
		return p.bad(id, "has an unknown element")
	}
	v := rest[:n]
	if n < 16 {
		return p.bad(id, "has half a bucket")
	}
	if root := native.Uint64(v); root != 0 {
		return p.tree(root, nil, nil)
	}
	if n < 16+pageHeader || native.Uint16(v[16+8:]) != leafPage {
		return p.bad(id, "has half a bucket")
	}
	return p.elements(id, v[16:], nil, nil)
}

// listed returns the numbers of the free pages, 8 bytes each; none if they are
// not in the file: then bbolt works them out when it opens it.
func (p *pageFile) listed(id uint64) ([]byte, error) {
	if id == noFreelist {
		return nil, nil
	}
	b, err := p.take(id)
	if err != nil {
		return nil, err
	}
	if native.Uint16(b[8:]) != freelistPage {
		return nil, p.bad(id, "is no list of free pages")
	}
	count, ids := uint64(native.Uint16(b[10:])), b[pageHeader:]
	if count == 0xFFFF { // too many for the field: the number comes first
		count, ids = native.Uint64(ids), ids[8:]
	}
	if count > uint64(len(ids)/8) {
		return nil, p.bad(id, "lists more free pages than it has room for")
	}
	return ids[:8*count], nil
}

// freelist checks that just those pages are free that nothing uses.
func (p *pageFile) freelist(id uint64) error {
	ids, err := p.listed(id)
	if err != nil || id == noFreelist {
		return err
	}
	for ; len(ids) >= 8; ids = ids[8:] {
		free := native.Uint64(ids)
		if free >= p.end || p.used[free] {
			return p.bad(free, "is free and in use, or not in the file")
		}
		p.used[free] = true
	}
	for i, used := range p.used {
		if !used {
			return p.bad(uint64(i), "is neither free nor in use")
		}
	}
	return nil
}
