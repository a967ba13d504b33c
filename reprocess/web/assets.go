package web

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io/fs"
	"path"
	"strings"
	"sync"

	"github.com/gofiber/fiber/v2"

	"handback/static"
)

// asset is one embedded file, compressed once at the start.
type asset struct {
	kind         string // content type
	plain, small []byte // as it is, and gzip; small is nil where it would not be smaller
}

// assets serves embedded files under names that change with their content, so that a browser
// may keep them for ever.
type assets struct {
	byPath map[string]asset  // "/a/look-0123456789abcdef.css"
	paths  map[string]string // "css/look.css" to the former
}

// assetKinds are the endings that are served, and nothing else is.
var assetKinds = map[string]string{
	".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8",
	".svg": "image/svg+xml", ".wasm": "application/wasm", ".png": "image/png",
}

// loadAssets packs the files once for the process: compressing them costs about 0.1 s.
var loadAssets = sync.OnceValues(packAssets)

func packAssets() (*assets, error) {
	a := &assets{byPath: map[string]asset{}, paths: map[string]string{}}
	err := fs.WalkDir(static.Files, ".", func(file string, d fs.DirEntry, err error) error {
		kind, served := assetKinds[path.Ext(file)]
		if err != nil || d.IsDir() || !served {
			return err
		}
		content, err := static.Files.ReadFile(file)
		if err != nil {
			return err
		}
		return a.add(file, kind, content)
	})
	return a, err
}

func (a *assets) add(file, kind string, content []byte) error {
	sum := sha256.Sum256(content)
	ending := path.Ext(file)
	name := strings.TrimSuffix(path.Base(file), ending)
	address := "/a/" + name + "-" + hex.EncodeToString(sum[:8]) + ending
	var b bytes.Buffer
	w, err := gzip.NewWriterLevel(&b, gzip.BestCompression)
	if err == nil {
		_, err = w.Write(content)
	}
	if err == nil {
		err = w.Close()
	}
	if err != nil {
		return err
	}
	one := asset{kind: kind, plain: content}
	if b.Len() < len(content) {
		one.small = b.Bytes()
	}
	a.byPath[address], a.paths[file] = one, address
	return nil
}

// path gives the address of an embedded file; templates call it as asset.
func (a *assets) path(file string) (string, error) {
	p, ok := a.paths[file]
	if !ok {
		return "", fmt.Errorf("there is no embedded file %q", file)
	}
	return p, nil
}

// serveAsset answers GET /a/NAME. Old names are gone, not guessed.
func serveAsset(v *Visit) error {
	one, ok := v.server.assets.byPath["/a/"+v.Param("name")]
	if !ok {
		return notFound("file")
	}
	c := v.c
	c.Set(fiber.HeaderContentType, one.kind)
	c.Set(fiber.HeaderCacheControl, "public, max-age=31536000, immutable")
	c.Set(fiber.HeaderVary, fiber.HeaderAcceptEncoding)
	if one.small != nil && strings.Contains(c.Get(fiber.HeaderAcceptEncoding), "gzip") {
		c.Set(fiber.HeaderContentEncoding, "gzip")
		return c.Send(one.small)
	}
	return c.Send(one.plain)
}
