// Package carriertest is a stand-in for an SMS carrier: a real HTTP server on
// the loopback interface that speaks as much of the carrier's message API as
// we use (create a message, list messages page by page), fails on demand in
// the ways a carrier fails, and posts signed inbound web hooks.
//
// It keeps what it accepted, so that a test can tell what was really taken
// from what the sender believes. It is no part of the running service.
package carriertest
