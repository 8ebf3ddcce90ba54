package daemon

// Containerfile is a recipe for an image with nothing in it but the program and
// the certificates of the web's authorities. It is built in the source folder.
const Containerfile = `# An image of stepgate. In the source folder:
#   stepgate unit --container > Containerfile
#   podman build --format docker -t stepgate .
#   chown -R 10001:10001 /srv/clinic
#   podman run -d --name stepgate --restart on-failure --stop-timeout 90 --init \
#     --read-only --cap-drop all --security-opt no-new-privileges \
#     -v /srv/clinic:/clinic:Z --secret sms-token,uid=10001,mode=0400 stepgate
# In stepgate.yaml a secret is then token: {file: /run/secrets/sms-token}, and a
# listener that others reach listens on all addresses, like 0.0.0.0:8090.
# Commands: podman exec stepgate /stepgate caseload /clinic

FROM golang:1.26 AS build
WORKDIR /src
COPY . .
RUN CGO_ENABLED=0 go build -trimpath -o /stepgate ./cmd/stepgate

FROM scratch
COPY --from=build /stepgate /stepgate
COPY --from=build /etc/ssl/certs/ca-certificates.crt /etc/ssl/certs/ca-certificates.crt
USER 10001:10001
VOLUME /clinic
STOPSIGNAL SIGTERM
HEALTHCHECK --interval=1m --timeout=10s --start-period=2m --retries=3 CMD ["/stepgate", "health", "/clinic"]
ENTRYPOINT ["/stepgate"]
CMD ["serve", "/clinic"]
`
