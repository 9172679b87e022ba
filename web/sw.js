/* The service worker, in parts: the list of files, then what happens when. This file is never renamed. */
importScripts('/worker/assets.js', '/worker/events.js');
