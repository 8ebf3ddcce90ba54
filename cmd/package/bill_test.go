package main

import (
	"bytes"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
)

// TestBillIsValid: the bill of materials is what CycloneDX 1.6 says one is, by
// its own schema (cyclonedx.org/schema), which the library brings along.
func TestBillIsValid(t *testing.T) {
	t.Parallel()
	r := theRelease(t)
	schema := billSchema(t)
	for _, arch := range r.arches {
		body := read(t, r.one(t, "*-"+arch+".cdx.json"))
		bill, err := jsonschema.UnmarshalJSON(bytes.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		if err := schema.Validate(bill); err != nil {
			t.Errorf("%s: %v", arch, err)
		}
		// The schema can tell: it takes no bill with an unheard-of license.
		bad, err := jsonschema.UnmarshalJSON(bytes.NewReader(bytes.Replace(body, []byte(`"id": "MIT"`), []byte(`"id": "NONESUCH"`), 1)))
		if err != nil {
			t.Fatal(err)
		}
		if schema.Validate(bad) == nil {
			t.Error("the schema takes a license that there is not")
		}
	}
}

func billSchema(t *testing.T) *jsonschema.Schema {
	t.Helper()
	out, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/CycloneDX/cyclonedx-go").Output()
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	c.AssertFormat()
	for name, file := range map[string]string{"bom-1.6": "bom-1.6.schema.json", "spdx": "spdx.schema.json", "jsf-0.82": "jsf-0.82.schemax.json"} {
		f, err := os.Open(filepath.Join(strings.TrimSpace(string(out)), "schema", file))
		if err != nil {
			t.Fatal(err)
		}
		doc, err := jsonschema.UnmarshalJSON(f)
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		if err := c.AddResource("http://cyclonedx.org/schema/"+name+".schema.json", doc); err != nil {
			t.Fatal(err)
		}
	}
	s, err := c.Compile("http://cyclonedx.org/schema/bom-1.6.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// TestBillIsWhole: it lists what "go version -m" finds in the program and
// nothing else, with the hashes of go.sum.
func TestBillIsWhole(t *testing.T) {
	t.Parallel()
	r := theRelease(t)
	sums := string(read(t, filepath.Join(r.source, "go.sum")))
	for _, arch := range r.arches {
		out, err := exec.Command("go", "version", "-m", r.one(t, "stepgate-*-linux-"+arch)).Output()
		if err != nil {
			t.Fatal(err)
		}
		want := map[string]string{}
		for line := range strings.Lines(string(out)) {
			if f := strings.Fields(line); len(f) == 4 && f[0] == "dep" {
				want[f[1]+" "+f[2]] = f[3]
			}
		}
		if len(want) < 20 {
			t.Fatalf("go version -m lists only %d modules:\n%s", len(want), out)
		}
		var bill struct {
			Components []struct {
				Name, Version, Purl string
				Hashes              []struct{ Alg, Content string }
				Licenses            []struct{ License struct{ ID string } }
			}
		}
		if err := json.Unmarshal(read(t, r.one(t, "*-"+arch+".cdx.json")), &bill); err != nil {
			t.Fatal(err)
		}
		texts := string(read(t, r.one(t, "*-"+arch+".third-party.txt")))
		if len(bill.Components) != len(want)+1 || bill.Components[0].Name != "std" {
			t.Errorf("%s: %d components, want Go's own and %d", arch, len(bill.Components), len(want))
		}
		for _, c := range bill.Components {
			id := c.Name + " " + c.Version
			if !strings.Contains(texts, "\n"+id+", LICENSE") && !strings.Contains(texts, "\n"+id+", LICENCE") {
				t.Errorf("%s: its license's text is not in the list", id)
			}
			if len(c.Licenses) == 0 || c.Licenses[0].License.ID == "" || !strings.HasPrefix(c.Purl, "pkg:golang/"+c.Name+"@") {
				t.Errorf("%s: licenses %v, %s", id, c.Licenses, c.Purl)
			}
			if c.Name == "std" {
				continue
			}
			sum := want[id]
			if len(c.Hashes) != 1 || c.Hashes[0].Alg != "SHA-256" || "h1:"+base64Of(t, c.Hashes[0].Content) != sum || !strings.Contains(sums, id+" "+sum+"\n") {
				t.Errorf("%s: hashes %v, want that of %s, which is in go.sum", id, c.Hashes, sum)
			}
		}
	}
}

func base64Of(t *testing.T, inHex string) string {
	t.Helper()
	raw, err := hex.DecodeString(inHex)
	if err != nil {
		t.Fatal(err)
	}
	return base64.StdEncoding.EncodeToString(raw)
}
