package main

import (
	"fmt"
	"io"
	"net/http"
	"net/url"
	"testing"
	"time"

	"stepgate/notify"
)

// TestHandset holds a conversation on the phone as the handset command does:
// the latest six texts are there at first, texts come in as they are sent, an
// answer goes to who texted last, and one's own are not shown.
func TestHandset(t *testing.T) {
	address, _ := runs(t, "--from", ours+","+second, "--deliver", "0s")
	for i := range 8 {
		sends(t, address, ours, theirs, fmt.Sprint("earlier ", i))
	}
	call(t, http.MethodPost, address+"/phone/"+theirs, form, url.Values{"text": {"my own"}}.Encode())
	in, keys := io.Pipe()
	shown, ended := make(chan string, 100), make(chan error, 1)
	go func() {
		ended <- notify.Phone{Carrier: address, Number: theirs}.Run(t.Context(), in, func(at time.Time, text string) {
			if time.Since(at).Abs() > patience {
				t.Errorf("%q is of %s", text, at)
			}
			shown <- text
		})
	}()
	want := func(text string) {
		t.Helper()
		select {
		case got := <-shown:
			if got != text {
				t.Fatalf("it shows %q, want %q", got, text)
			}
		case err := <-ended:
			t.Fatalf("it ended: %v", err)
		}
	}
	for i := 2; i < 8; i++ {
		want(fmt.Sprint("earlier ", i))
	}
	sends(t, address, second, theirs, "How is it?")
	want("How is it?")
	if _, err := io.WriteString(keys, "P3\nHELP\n"); err != nil {
		t.Fatal(err)
	}
	want("Reply STOP to end messages from this number.")
	all := texts(t, address, "")
	for _, x := range all[len(all)-3 : len(all)-1] {
		if x.From != theirs || x.To != second {
			t.Errorf("an answer went from %s to %s", x.From, x.To)
		}
	}
	if err := keys.Close(); err != nil {
		t.Fatal(err)
	}
	if err := <-ended; err != nil || len(shown) > 0 {
		t.Errorf("it ended with %v, and %d more texts", err, len(shown))
	}
}
