# One image for every part; alone, it runs everything from one command with the embedded queue:
#   docker build -t trainlog . && docker run -p 127.0.0.1:8000:8000 -v trainlog:/data trainlog
FROM python:3.13-slim

ENV PYTHONUNBUFFERED=1 \
    PYTHONDONTWRITEBYTECODE=1 \
    PYTHONPATH=/app \
    DJANGO_SETTINGS_MODULE=trainlog.settings \
    OPENBLAS_NUM_THREADS=1 \
    OMP_NUM_THREADS=1 \
    TRAINLOG_DATA_FOLDER=/data

WORKDIR /app
COPY requirements.lock .
RUN pip install --no-cache-dir --require-hashes -r requirements.lock
COPY manage.py .
COPY fixtures fixtures
COPY accuracy accuracy
COPY trainlog trainlog
RUN python -m compileall -q accuracy fixtures trainlog \
    && useradd --uid 10001 --no-create-home --shell /usr/sbin/nologin trainlog \
    && install -d -o trainlog -m 0700 /data

USER trainlog
VOLUME /data
EXPOSE 8000
HEALTHCHECK --interval=30s --timeout=15s --start-period=3m --retries=3 \
    CMD ["python", "-m", "trainlog.serve.ask_health"]
CMD ["sh", "-c", "python -m trainlog.secret_key /data && exec python manage.py serve --address 0.0.0.0:8000"]
