package main

import (
	"bytes"
	"crypto/sha256"
	"debug/buildinfo"
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"
	"runtime/debug"
	"strings"
	"time"

	"github.com/CycloneDX/cyclonedx-go"
	"github.com/google/uuid"
)

// bill is a bill of materials in CycloneDX 1.6 JSON. What is in the program is
// read from the program; licenses only says under which terms.
func (r *release) bill(program string, licenses []module) ([]byte, error) {
	info, err := buildinfo.ReadFile(program)
	if err != nil {
		return nil, fmt.Errorf("read what the program was built from: %w", err)
	}
	body, err := os.ReadFile(program)
	if err != nil {
		return nil, err
	}
	sum := sha256.Sum256(body)
	terms := map[string][]string{}
	for _, m := range licenses {
		terms[m.path] = m.licenses
	}
	self := cyclonedx.Component{
		BOMRef: "stepgate", Type: cyclonedx.ComponentTypeApplication, Name: "stepgate", Version: r.version,
		Hashes:     &[]cyclonedx.Hash{{Algorithm: cyclonedx.HashAlgoSHA256, Value: hex.EncodeToString(sum[:])}},
		Licenses:   choices([]string{"MIT"}),
		Properties: settings(info),
	}
	goVersion := strings.TrimPrefix(info.GoVersion, "go")
	parts := []cyclonedx.Component{{
		BOMRef: "pkg:golang/std@" + goVersion, Type: cyclonedx.ComponentTypeLibrary, Name: "std", Version: goVersion,
		PackageURL: "pkg:golang/std@" + goVersion, Licenses: choices(terms["std"]),
	}}
	for _, d := range info.Deps {
		part, err := component(d, terms[d.Path])
		if err != nil {
			return nil, err
		}
		parts = append(parts, part)
	}
	bom := cyclonedx.NewBOM()
	bom.SerialNumber = uuid.NewSHA1(uuid.NameSpaceURL, append([]byte(filepath.Base(program)), sum[:]...)).URN()
	bom.Metadata = &cyclonedx.Metadata{Timestamp: r.at.Format(time.RFC3339), Component: &self}
	bom.Components = &parts
	var out bytes.Buffer
	enc := cyclonedx.NewBOMEncoder(&out, cyclonedx.BOMFileFormatJSON).SetPretty(true)
	if err := enc.EncodeVersion(bom, cyclonedx.SpecVersion1_6); err != nil {
		return nil, fmt.Errorf("write the bill of materials: %w", err)
	}
	return out.Bytes(), nil
}

// component is a module. Its hash is the one in go.sum, of the list of its
// files and their hashes (golang.org/x/mod/sumdb/dirhash), not of an archive.
func component(m *debug.Module, terms []string) (cyclonedx.Component, error) {
	var none cyclonedx.Component
	if m.Replace != nil {
		return none, fmt.Errorf("%s is replaced by another, which a bill can't say here", m.Path)
	}
	if len(terms) == 0 {
		return none, fmt.Errorf("%s is in the program, and its license is not known", m.Path)
	}
	raw, err := base64.StdEncoding.DecodeString(strings.TrimPrefix(m.Sum, "h1:"))
	if err != nil || len(raw) != sha256.Size || !strings.HasPrefix(m.Sum, "h1:") {
		return none, fmt.Errorf("%s has the checksum %q in the program; want one like in go.sum", m.Path, m.Sum)
	}
	url := "pkg:golang/" + m.Path + "@" + strings.ReplaceAll(m.Version, "+", "%2B")
	return cyclonedx.Component{
		BOMRef: url, Type: cyclonedx.ComponentTypeLibrary, Name: m.Path, Version: m.Version, PackageURL: url,
		Hashes:     &[]cyclonedx.Hash{{Algorithm: cyclonedx.HashAlgoSHA256, Value: hex.EncodeToString(raw)}},
		Licenses:   choices(terms),
		Properties: &[]cyclonedx.Property{{Name: "go.sum", Value: m.Sum}},
	}, nil
}

func choices(names []string) *cyclonedx.Licenses {
	var l cyclonedx.Licenses
	for _, name := range names {
		l = append(l, cyclonedx.LicenseChoice{License: &cyclonedx.License{ID: name}})
	}
	return &l
}

// settings are how the program was built, as it says itself.
func settings(info *debug.BuildInfo) *[]cyclonedx.Property {
	list := []cyclonedx.Property{{Name: "go.version", Value: info.GoVersion}}
	for _, s := range info.Settings {
		list = append(list, cyclonedx.Property{Name: "go.build." + s.Key, Value: s.Value})
	}
	return &list
}
