/* serve/guard.h: who may be meant by a request, and where it may come from: Host and Origin.
 *
 * A page of another site can make a browser send requests here, and a name of another site can be made to lead to this
 * machine. So the Host must be one that this server has, and an Origin must be this server. Pure. */
#ifndef TW_SERVE_GUARD_H
#define TW_SERVE_GUARD_H

#include <stddef.h>
#include <stdint.h>

#include "units/text.h"

/* 1 when the value of a Host header names this server.
 *   hosts    names, commas between, without ports, lower case: "localhost,127.0.0.1,[::1],tub.example"
 *   port     that it listens at
 *   any_port 1: a proxy in front has a port of its own, so any will do */
int tw_serve_host_fits(tw_text host, const char *hosts, uint16_t port, int any_port);

/* 1 when the value of an Origin header is this server: scheme://HOST, where host is the request's own. */
int tw_serve_origin_fits(tw_text origin, int tls, tw_text host);

/* 1 when a value of If-None-Match names the tag ("abc", with its quotes). */
int tw_serve_tag_named(tw_text values, const char *tag);

/* 1 when a value of Accept allows a media type ("application/json"); none at all allows everything. Weights
 * beside q=0 do not count. */
int tw_serve_accepts(tw_text accept, const char *type);

/* 1 when a value of Content-Type is this media type; parameters other than charset=utf-8 are refused. */
int tw_serve_content_is(tw_text value, const char *type);

/* The value of a cookie in a Cookie header; empty when it is not there, or there twice. */
tw_text tw_serve_cookie(tw_text cookies, const char *name);

#endif
