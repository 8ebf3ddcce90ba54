package config

import (
	"os"
	"path/filepath"

	"go.yaml.in/yaml/v3"
)

// DataDir is where the clinic's data lie, as far as it can be told: from the
// data key of stepgate.yaml, also where much else in the files is wrong, or
// else the usual place. It is what finds the last good files again.
func DataDir(dir string) string {
	abs, err := filepath.Abs(dir)
	if err != nil {
		abs = dir
	}
	data := "data"
	if text, err := os.ReadFile(filepath.Join(dir, "stepgate.yaml")); err == nil {
		var doc yaml.Node
		if yaml.Unmarshal(text, &doc) == nil && len(doc.Content) == 1 {
			data = scalar(doc.Content[0], "data", data)
		}
	}
	if filepath.IsAbs(data) {
		return filepath.Clean(data)
	}
	return filepath.Join(abs, data)
}

// scalar is the value of a key of a mapping, or other.
func scalar(m *yaml.Node, key, other string) string {
	if m.Kind != yaml.MappingNode {
		return other
	}
	for i := 0; i+1 < len(m.Content); i += 2 {
		if v := m.Content[i+1]; m.Content[i].Value == key && v.Kind == yaml.ScalarNode && v.Value != "" {
			return v.Value
		}
	}
	return other
}
