// Package static holds the embedded templates, style sheet and scripts, and nothing else.
package static

import "embed"

// Files is everything that is served or rendered: tmpl/*.html (one per page, beside base.html
// and parts.html), css/*.css, js/*.js; js/reader.* is another project's, see reader.LICENSE.txt.
//
//go:embed tmpl css js
var Files embed.FS
