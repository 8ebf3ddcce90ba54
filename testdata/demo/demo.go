// Package demo holds the clinic that `stepgate demo` plays: an invented clinic
// and six invented patients, each with a story.
package demo

import "embed"

// Files is the clinic folder as the demo lays it out.
//
//go:embed stepgate.yaml programs enrollments
var Files embed.FS
