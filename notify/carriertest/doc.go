// Package carriertest is a stand-in for an SMS carrier: a real HTTP server on
// the loopback interface that speaks as much of the carrier's message API as
// we use (create a message, list messages with filters and pages), moves what
// it took on to delivered or not with signed status callbacks, takes messages
// from people, and fails on demand in the ways a carrier fails.
//
// It keeps what it accepted, so that a test can tell what was really taken
// from what the sender believes. It refuses whatever is outside the published
// API, and posts to this machine only. It is no part of the running service.
package carriertest
