/* A winmm.dll with one MIDI output, "Stranger", that writes what it is sent into the file that OPENCHAIR_SENT names, a
 * line a message, at once: what was sent by the moment that a program ended stands there. No inputs. */
#define _WINMM_
#include <windows.h>
#include <mmsystem.h>
#include <mmddk.h>
#include <stdio.h>

#define MINE __declspec(dllexport)
static const WCHAR NAME[] = L"Stranger", PLACE[] = L"\\\\?\\stranger";

static void note(const char *what, unsigned bytes) {
    char line[80], path[MAX_PATH];
    DWORD done;
    HANDLE file;
    if (!GetEnvironmentVariableA("OPENCHAIR_SENT", path, sizeof path)) return;
    file = CreateFileA(path, FILE_APPEND_DATA, FILE_SHARE_READ | FILE_SHARE_WRITE, NULL, OPEN_ALWAYS, 0, NULL);
    if (file == INVALID_HANDLE_VALUE) return;
    WriteFile(file, line, sprintf(line, "%lu %s %02x %02x %02x\n", GetTickCount(), what, bytes & 255,
        bytes >> 8 & 255, bytes >> 16 & 255), &done, NULL);
    CloseHandle(file);
}

MINE UINT WINAPI midiOutGetNumDevs(void) { return 1; }
MINE MMRESULT WINAPI midiOutGetDevCapsW(UINT_PTR id, LPMIDIOUTCAPSW caps, UINT size) {
    if (id) return MMSYSERR_BADDEVICEID;
    memset(caps, 0, size);
    lstrcpyW(caps->szPname, NAME);
    return MMSYSERR_NOERROR;
}
MINE MMRESULT WINAPI midiOutMessage(HMIDIOUT id, UINT what, DWORD_PTR one, DWORD_PTR two) {
    if (id) return MMSYSERR_BADDEVICEID;
    if (what == DRV_QUERYDEVICEINTERFACESIZE) *(ULONG *)one = sizeof PLACE;
    else if (what == DRV_QUERYDEVICEINTERFACE && two >= sizeof PLACE) memcpy((void *)one, PLACE, sizeof PLACE);
    else return MMSYSERR_NOTSUPPORTED;
    return MMSYSERR_NOERROR;
}
MINE MMRESULT WINAPI midiOutOpen(LPHMIDIOUT out, UINT id, DWORD_PTR call, DWORD_PTR with, DWORD flags) {
    if (id) return MMSYSERR_BADDEVICEID;
    *out = (HMIDIOUT)1;
    note("open", 0);
    return MMSYSERR_NOERROR;
}
MINE MMRESULT WINAPI midiOutShortMsg(HMIDIOUT out, DWORD bytes) { note("sent", bytes); return MMSYSERR_NOERROR; }
MINE MMRESULT WINAPI midiOutReset(HMIDIOUT out) { note("reset", 0); return MMSYSERR_NOERROR; }
MINE MMRESULT WINAPI midiOutClose(HMIDIOUT out) { note("close", 0); return MMSYSERR_NOERROR; }
MINE MMRESULT WINAPI midiOutLongMsg(HMIDIOUT out, LPMIDIHDR head, UINT size) { return MMSYSERR_NOERROR; }
MINE MMRESULT WINAPI midiOutPrepareHeader(HMIDIOUT out, LPMIDIHDR head, UINT size) { return MMSYSERR_NOERROR; }
MINE MMRESULT WINAPI midiOutUnprepareHeader(HMIDIOUT out, LPMIDIHDR head, UINT size) { return MMSYSERR_NOERROR; }
MINE UINT WINAPI midiInGetNumDevs(void) { return 0; }
MINE MMRESULT WINAPI timeBeginPeriod(UINT milliseconds) { return 0; }
MINE MMRESULT WINAPI timeEndPeriod(UINT milliseconds) { return 0; }
MINE DWORD WINAPI timeGetTime(void) { return GetTickCount(); }
