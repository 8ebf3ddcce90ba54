package export

import (
	"compress/gzip"
	"encoding/json"
	"fmt"
	"maps"
	"os"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
)

// schemaFile is the JSON schema of FHIR R4; see README.md beside it.
const schemaFile = "../../testdata/fhir/fhir.schema.json.gz"

// schema gives the schema of one definition, such as a kind of resource.
var schema = sync.OnceValues(func() (func(name string) (*jsonschema.Schema, error), error) {
	f, err := os.Open(schemaFile)
	if err != nil {
		return nil, err
	}
	defer func() { _ = f.Close() }()
	z, err := gzip.NewReader(f)
	if err != nil {
		return nil, err
	}
	doc, err := jsonschema.UnmarshalJSON(z)
	if err != nil {
		return nil, err
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("fhir.json", doc); err != nil {
		return nil, err
	}
	var mu sync.Mutex
	return func(name string) (*jsonschema.Schema, error) {
		mu.Lock()
		defer mu.Unlock()
		return c.Compile("fhir.json#/definitions/" + name)
	}, nil
})

// resource is one of a bundle, as a reader without any types has it.
type resource struct {
	URL string
	m   map[string]any
}

func (r resource) kind() string { s, _ := r.m["resourceType"].(string); return s }

// at follows keys and indexes; nil where there is nothing.
func (r resource) at(path ...any) any {
	var v any = r.m
	for _, p := range path {
		switch p := p.(type) {
		case string:
			m, _ := v.(map[string]any)
			v = m[p]
		case int:
			l, _ := v.([]any)
			if p >= len(l) {
				return nil
			}
			v = l[p]
		}
	}
	return v
}

func (r resource) is(want string, path ...any) bool { return fmt.Sprint(r.at(path...)) == want }

// fatal is what a check needs of a test, or of one draw of a property.
type fatal interface {
	Helper()
	Fatalf(format string, args ...any)
}

// readBundle holds a bundle against the schema and what FHIR asks beyond it,
// and returns its resources by their URL, in order.
func readBundle(t fatal, text string) []resource {
	t.Helper()
	of, err := schema()
	if err != nil {
		t.Fatalf("schema: %v", err)
	}
	doc, err := jsonschema.UnmarshalJSON(strings.NewReader(text))
	if err != nil {
		t.Fatalf("no JSON: %v\n%s", err, text)
	}
	bundle := doc.(map[string]any)
	entries, given := bundle["entry"].([]any)
	if bundle["resourceType"] != "Bundle" || bundle["type"] != "collection" || given && len(entries) == 0 {
		t.Fatalf("the bundle: %.200s", text)
	}
	var list []resource
	urls := map[string]string{}
	for _, e := range entries {
		e := e.(map[string]any)
		r := resource{e["fullUrl"].(string), e["resource"].(map[string]any)}
		s, err := of(r.kind())
		if err != nil {
			t.Fatalf("schema: %v", err)
		}
		if err := s.Validate(e["resource"]); err != nil {
			t.Fatalf("%s: %v", r.kind(), err)
		}
		if urls[r.URL] != "" {
			t.Fatalf("%s stands twice (bdl-7)", r.URL)
		}
		urls[r.URL] = r.kind()
		list = append(list, r)
	}
	for _, r := range list {
		checkResource(t, r, urls)
	}
	// The rest of the bundle without what was looked at: with it the schema tries
	// every kind of resource there is for each; TestWholeBundle does once.
	for _, e := range entries {
		delete(e.(map[string]any), "resource")
	}
	if s, err := of("Bundle"); err != nil {
		t.Fatalf("schema: %v", err)
	} else if err := s.Validate(doc); err != nil {
		t.Fatalf("the bundle: %v", err)
	}
	return list
}

// need are the elements that R4 requires and its JSON schema does not, as
// hl7.org/fhir/R4 has them with cardinality 1..1.
var need = map[string][]string{
	"CarePlan": {"status", "intent", "subject"}, "ServiceRequest": {"status", "intent", "subject"}, "Observation": {"status", "code"},
	"Communication": {"status"}, "DeviceUseStatement": {"status", "subject", "device"}, "RelatedPerson": {"patient"}, "Patient": nil, "Device": nil,
}

// mayRefer is what R4 lets an element refer to.
var mayRefer = map[string][]string{
	"subject": {"Patient"}, "patient": {"Patient"}, "performer": {"Patient", "RelatedPerson"}, "sender": {"Patient", "RelatedPerson"},
	"recipient": {"Patient", "RelatedPerson"}, "basedOn": {"CarePlan"}, "device": {"Device"}, "reference": {"ServiceRequest"},
	"inResponseTo": {"Communication"},
}

// urlForm is urn:uuid: with a UUID of version 8 (RFC 9562, 4 and 5.8).
var urlForm = regexp.MustCompile(`^urn:uuid:[0-9a-f]{8}-[0-9a-f]{4}-8[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$`)

func checkResource(t fatal, r resource, urls map[string]string) {
	t.Helper()
	elements, known := need[r.kind()]
	if !known || !urlForm.MatchString(r.URL) || r.URL != "urn:uuid:"+r.m["id"].(string) {
		t.Fatalf("%s at %s with id %v", r.kind(), r.URL, r.m["id"])
	}
	for _, e := range elements {
		if r.m[e] == nil {
			t.Fatalf("%s has no %s: %v", r.kind(), e, r.m)
		}
	}
	references(t, r.kind(), "", r.m, urls)
	switch r.kind() {
	case "Observation":
		checkScore(t, r)
	case "ServiceRequest":
		checkTiming(t, r)
	}
}

// references follows each reference into the bundle.
func references(t fatal, kind, key string, v any, urls map[string]string) {
	t.Helper()
	switch v := v.(type) {
	case []any:
		for _, x := range v {
			references(t, kind, key, x, urls)
		}
	case map[string]any:
		if to, ok := v["reference"].(string); ok {
			if urls[to] == "" || urls[to] != v["type"] || !slices.Contains(mayRefer[key], urls[to]) {
				t.Fatalf("%s.%s refers to %s (%v), which is %q", kind, key, to, v["type"], urls[to])
			}
			return
		}
		for _, k := range slices.Sorted(maps.Keys(v)) {
			references(t, kind, k, v[k], urls)
		}
	}
}

// checkScore asserts the code and its unit: LOINC 72514-3 (loinc.org/72514-3),
// a whole number from 0 to 10, or none and why (obs-6).
func checkScore(t fatal, r resource) {
	t.Helper()
	const long = "Pain severity - 0-10 verbal numeric rating [Score] - Reported"
	if !r.is("http://loinc.org", "code", "coding", 0, "system") || !r.is("72514-3", "code", "coding", 0, "code") || !r.is(long, "code", "coding", 0, "display") ||
		!r.is("survey", "category", 0, "coding", 0, "code") || r.at("effectiveDateTime") == nil || r.at("performer") == nil {
		t.Fatalf("a score: %v", r.m)
	}
	value, given := r.at("valueQuantity", "value").(json.Number)
	absent := r.at("dataAbsentReason") != nil
	if n, err := value.Int64(); given == absent || given && (err != nil || n < 0 || n > 10 || !r.is("{score}", "valueQuantity", "code") ||
		!r.is("http://unitsofmeasure.org", "valueQuantity", "system")) {
		t.Fatalf("a score: %v", r.m)
	}
	if absent != r.is("entered-in-error", "status") {
		t.Fatalf("a score: %v", r.m)
	}
}

// checkTiming asserts what Timing.repeat must keep: a period has a unit (tim-2),
// and there is a frequency of at least 1.
func checkTiming(t fatal, r resource) {
	t.Helper()
	rep := func(key string) any { return r.at("occurrenceTiming", "repeat", key) }
	n, ok := rep("frequency").(json.Number)
	if !ok || n == "0" || rep("period") == nil || !slices.Contains([]any{"d", "wk"}, rep("periodUnit")) {
		t.Fatalf("a timing: %v", r.m)
	}
	if r.at("code", "text") == nil || r.at("orderDetail") == nil { // prr-1
		t.Fatalf("a request: %v", r.m)
	}
}

// of are the resources of a kind.
func of(list []resource, kind string) []resource {
	return slices.DeleteFunc(slices.Clone(list), func(r resource) bool { return r.kind() != kind })
}

// A bundle as it is keeps to the schema as it is.
func TestWholeBundle(t *testing.T) {
	of, err := schema()
	if err != nil {
		t.Fatal(err)
	}
	s, err := of("Bundle")
	if err != nil {
		t.Fatal(err)
	}
	doc, err := jsonschema.UnmarshalJSON(strings.NewReader(aWeek(t).write(Options{Form: FHIR, ID: "ben-2"})))
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Validate(doc); err != nil {
		t.Errorf("%.2000s", err.Error())
	}
}

// The checks themselves find what is wrong: each fault is put into a good bundle.
func TestChecksFindFaults(t *testing.T) {
	good := aWeek(t).write(Options{Form: FHIR, ID: "ada-1"})
	readBundle(t, good)
	for _, fault := range []struct{ was, is string }{
		{`"status":"final"`, `"status":"finished"`}, {`"status":"final",`, ``}, {`"72514-3"`, `"72514-2"`}, {`"intent":"order"`, `"intention":"order"`},
		{`"periodUnit":"d"`, `"periodUnit":"day"`}, {`"value":5,`, `"value":11,`}, {`"value":5,`, `"value":"5",`}, {`"subject":{`, `"subjects":{`},
		{`"reference":"urn:uuid:`, `"reference":"urn:uuid:0`}, {`"effectiveDateTime":"2026-10-05"`, `"effectiveDateTime":"Oct 5"`},
		{`"type":"collection"`, `"type":"document"`}, {`"fullUrl":"urn:uuid:`, `"fullUrl":"urn:uuid:0`}, {`"type":"Patient"`, `"type":"Device"`},
	} {
		if !strings.Contains(good, fault.was) {
			t.Errorf("the bundle has no %s", fault.was)
			continue
		}
		found := &finder{}
		func() {
			defer func() { _ = recover() }()
			readBundle(found, strings.Replace(good, fault.was, fault.is, 1))
		}()
		if !found.found {
			t.Errorf("%s for %s is not found", fault.is, fault.was)
		}
	}
}

// finder notes that a check failed.
type finder struct{ found bool }

func (*finder) Helper() {}
func (f *finder) Fatalf(format string, args ...any) {
	f.found = true
	panic(fmt.Sprintf(format, args...))
}
